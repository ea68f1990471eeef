/* Colours and signs of layers. */
#include "page/plot_inner.h"

/* Found by search for the greatest least distance (CIE Lab, 24.1) between any
 * two of the four under normal sight and the three dichromacies as simulated by
 * Machado, Oliveira & Fernandes (2009), IEEE Trans. Vis. Comput. Graph.
 * 15:1291, with a contrast of at least 3:1 on white and on #161a1f (WCAG 2.1,
 * 1.4.11). Grey keeps 3.9:1 or more on both. */
const char *pl_hue_hex(pl_hue h)
{
    static const char *const hex[PL_NHUES] = {
        [PL_HUE_INK] = "#000000",    [PL_HUE_GREY] = "#7a858d",  [PL_HUE_BLUE] = "#316be5",
        [PL_HUE_ORANGE] = "#dd6426", [PL_HUE_GREEN] = "#3aa772", [PL_HUE_VIOLET] = "#b14bad",
    };

    return hex[h];
}

bool pl_layer_in_key(const pl_layer *layer)
{
    return layer->name && layer->name[0] && layer->kind != PL_LAYER_WORDS;
}

bool pl_plot_form_whole(pl_plot_form form)
{
    return form == PL_PLOT_PNG || form == PL_PLOT_PDF;
}

bool pl_layer_is_dots(const pl_layer *layer)
{
    return layer->kind == PL_LAYER_POINTS || layer->kind == PL_LAYER_MARKS;
}

/* Signs by kind; layers of dots and of curves take the next of theirs. */
char pl_layer_letter(const pl_plot *p, size_t layer)
{
    static const char dots[] = "oxs+vt", lines[] = "*#$%@&";
    pl_layer_kind kind = p->layers[layer].kind;
    size_t before = 0;

    for (size_t i = 0; i < layer; i++)
        before += p->layers[i].kind == kind;
    switch (kind) {
    case PL_LAYER_POINTS:
        return dots[before % (sizeof dots - 1)];
    case PL_LAYER_LINE:
        return lines[before % (sizeof lines - 1)];
    case PL_LAYER_MARKS:
        return '=';
    case PL_LAYER_BAND:
        return '.';
    case PL_LAYER_ACROSS:
    case PL_LAYER_LEVELS:
        return '-';
    case PL_LAYER_BARS:
    case PL_LAYER_SPANS:
    case PL_LAYER_UPRIGHTS:
        return '|';
    case PL_LAYER_WORDS:
    case PL_NLAYERS:
        break;
    }
    return ' ';
}
