/* QR codes as SVG paths. What is encoded is the caller's. */
#include "page/code.h"

#include <qrencode.h>

#include "page/html.h"

#define QUIET 4 /* modules of white around: ISO/IEC 18004 */

/* Each run of dark modules of a row becomes one rectangle. */
static void put_modules(pl_text *t, const QRcode *code)
{
    for (int y = 0; y < code->width; y++)
        for (int x = 0, run; x < code->width; x += run + 1) {
            for (run = 0; x + run < code->width && code->data[y * code->width + x + run] & 1; run++)
                ;
            if (run)
                pl_text_add(t, "M%d %dh%dv1h-%dz", x, y, run, run);
        }
}

void pl_html_code(pl_text *t, const char *text)
{
    QRcode *code = text ? QRcode_encodeString(text, 0, QR_ECLEVEL_Q, QR_MODE_8, 1) : NULL;
    int side;

    if (!code) {
        pl_text_put(t, NULL);
        return;
    }
    side = code->width + 2 * QUIET;
    pl_text_add(t, "<svg class=\"code\" viewBox=\"%d %d %d %d\" role=\"img\" aria-label=\"", -QUIET,
                -QUIET, side, side);
    pl_html_put(t, text);
    pl_text_add(t,
                " as a code to scan\"><path fill=\"#fff\" d=\"M%d %dh%dv%dh-%dz\"/>"
                "<path fill=\"#000\" shape-rendering=\"crispEdges\" d=\"",
                -QUIET, -QUIET, side, side, side);
    put_modules(t, code);
    pl_text_put(t, "\"/></svg>");
    QRcode_free(code);
}
