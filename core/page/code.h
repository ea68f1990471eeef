/* Machine-readable codes for labels: QR codes (ISO/IEC 18004) as SVG. libqrencode
 * is used here and nowhere else. */
#ifndef PL_PAGE_CODE_H
#define PL_PAGE_CODE_H

#include "base/text.h"

/* An <svg> of the text as a QR code with its quiet zone, black on white whatever
 * the page's colours; class "code", read out as the text. At least a quarter of it
 * may be soiled (level Q). A text that is too long (over some 1600 bytes), or
 * memory that ran out, makes t fail. */
void pl_html_code(pl_text *t, const char *text);

#endif
