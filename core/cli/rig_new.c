/* platen rig new: the beginning of a plugin. */
#include "cli/rig.h"
#include "rigs/find.h"
#include "rigs/scaffold.h"

pl_code pl_rig_new(pl_run *run, const char *name)
{
    const pl_rig_options *o = run->options;
    pl_scaffold made;
    pl_plugin_file file;
    pl_diags quiet;
    pl_jval *list;
    pl_code rc = pl_rigs_scaffold(run->arena, o->to ? o->to : ".", name, &made, &run->diags);

    if (rc)
        return rc;
    pl_diags_init(&quiet, run->arena);
    if (!pl_find_plugin(run->arena, name, &file, &quiet))
        pl_advise(
            &run->diags, file.path,
            .found = pl_arena_printf(run->arena, "a plugin \"%s\" that is there already", name),
            .expected = "a name of its own",
            .mend = "in PLATEN_PLUGINS, or given with --plugin, yours takes its place");
    list = pl_jadd_array(run->answer, "files");
    for (size_t i = 0; i < PL_SCAFFOLD_FILES; i++) {
        pl_jadd_text(list, NULL, made.files[i]);
        pl_text_add(&run->text, "%s\n", made.files[i]);
    }
    pl_text_add(&run->text, "\nNext: cd %s, make, then\n  PLATEN_PLUGINS=$PWD platen rig try %s\n",
                made.folder, name);
    return PL_OK;
}
