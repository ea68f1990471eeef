/* What bash, zsh and fish read to finish words: verbs, their parts and options, from
 * the verbs' own tables; files for all else. */
#include <string.h>

#include "cli/help_page.h"

static void bash_options(pl_text *out, const struct argp_option *o)
{
    for (; o && o->name; o++)
        pl_text_add(out, " --%s", o->name);
}

/* The option before takes a word of the user's: files are offered. */
static void bash_wanting(pl_text *out, const struct argp_option *o, const char **between)
{
    for (; o && o->name; o++)
        if (o->arg) {
            pl_text_add(out, "%s%s--%s", *between, **between ? "" : "    ", o->name);
            *between = "|";
        }
}

void pl_print_bash(pl_text *out)
{
    const char *between = "";

    pl_text_put(out,
                "# bash: source this file, or lay it with the other completions as \"platen\".\n"
                "_platen() {\n"
                "  local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]}\n"
                "  local parts= options=\n"
                "  COMPREPLY=()\n"
                "  if [ \"$COMP_CWORD\" -eq 1 ]; then\n"
                "    COMPREPLY=($(compgen -W \"");
    for (size_t i = 0; i < pl_nverbs; i++)
        pl_text_add(out, "%s ", pl_verbs[i]->name);
    pl_text_put(out, "--help --version\" -- \"$word\"))\n    return\n  fi\n  case $before in\n");
    for (size_t i = 0; i < pl_nverbs; i++)
        bash_wanting(out, pl_verbs[i]->options, &between);
    bash_wanting(out, pl_common_options, &between);
    pl_text_put(out, ")\n      COMPREPLY=($(compgen -f -- \"$word\"))\n      return ;;\n  esac\n"
                     "  case ${COMP_WORDS[1]} in\n");
    for (size_t i = 0; i < pl_nverbs; i++) {
        const pl_verb *v = pl_verbs[i];

        pl_text_add(out, "    %s) parts=\"%s\" options=\"", v->name, v->parts ? v->parts : "");
        bash_options(out, v->options);
        pl_text_put(out, "\" ;;\n");
    }
    pl_text_put(
        out,
        "    *) return ;;\n  esac\n  case $word in\n    -*) COMPREPLY=($(compgen -W \"$options");
    bash_options(out, pl_common_options);
    pl_text_put(
        out,
        "\" -- \"$word\")) ;;\n"
        "    *) [ \"$COMP_CWORD\" -ne 2 ] || COMPREPLY=($(compgen -W \"$parts\" -- \"$word\"))\n"
        "      COMPREPLY+=($(compgen -f -- \"$word\")) ;;\n"
        "  esac\n"
        "}\n"
        "complete -o filenames -F _platen platen\n");
}

/* A text inside single quotes of a shell; besides, zsh gives brackets and colons a
 * meaning of their own. */
static void put_quoted(pl_text *out, const char *s, const char *with_backslash)
{
    for (; *s; s++)
        if (*s == '\'')
            pl_text_put(out, "'\\''");
        else
            pl_text_add(out, strchr(with_backslash, *s) ? "\\%c" : "%c", *s);
}

static void zsh_options(pl_text *out, const struct argp_option *o)
{
    for (; o && o->name; o++) {
        pl_text_add(out, " \\\n        '*--%s%s[", o->name, o->arg ? "=" : "");
        put_quoted(out, o->doc, "[]:\\");
        pl_text_add(out, "]%s%s%s'", o->arg ? ":" : "", o->arg ? o->arg : "",
                    o->arg ? ":_files" : "");
    }
}

void pl_print_zsh(pl_text *out)
{
    pl_text_put(out, "#compdef platen\n"
                     "# zsh: lay this file as \"_platen\" in a folder of fpath.\n"
                     "_platen() {\n"
                     "  local -a verbs\n"
                     "  verbs=(\n");
    for (size_t i = 0; i < pl_nverbs; i++) {
        pl_text_add(out, "    '%s:", pl_verbs[i]->name);
        put_quoted(out, pl_verbs[i]->summary, ":\\");
        pl_text_put(out, "'\n");
    }
    pl_text_put(out, "  )\n"
                     "  if (( CURRENT == 2 )); then\n"
                     "    _describe verb verbs\n"
                     "    return\n"
                     "  fi\n"
                     "  shift words\n"
                     "  (( CURRENT-- ))\n"
                     "  case $words[1] in\n");
    for (size_t i = 0; i < pl_nverbs; i++) {
        const pl_verb *v = pl_verbs[i];

        pl_text_add(out, "    %s) _arguments", v->name);
        zsh_options(out, v->options);
        zsh_options(out, pl_common_options);
        if (v->parts)
            pl_text_add(out, " \\\n        '1: :(%s)'", v->parts);
        pl_text_put(out, " \\\n        '*: :_files' ;;\n");
    }
    pl_text_put(out, "  esac\n}\n_platen \"$@\"\n");
}

static void fish_options(pl_text *out, const char *verb, const struct argp_option *o)
{
    for (; o && o->name; o++) {
        pl_text_add(out, "complete -c platen -n '__fish_seen_subcommand_from %s' -l %s%s -d '",
                    verb, o->name, o->arg ? " -r" : "");
        put_quoted(out, o->doc, "\\");
        pl_text_put(out, "'\n");
    }
}

void pl_print_fish(pl_text *out)
{
    pl_text_put(out, "# fish: lay this file as platen.fish with the other completions.\n");
    for (size_t i = 0; i < pl_nverbs; i++) {
        const pl_verb *v = pl_verbs[i];

        pl_text_add(out, "complete -c platen -f -n __fish_use_subcommand -a %s -d '", v->name);
        put_quoted(out, v->summary, "\\");
        pl_text_put(out, "'\n");
        if (v->parts)
            pl_text_add(out, "complete -c platen -n '__fish_seen_subcommand_from %s' -a '%s'\n",
                        v->name, v->parts);
        fish_options(out, v->name, v->options);
        fish_options(out, v->name, pl_common_options);
    }
}
