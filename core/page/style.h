/* The style sheet of every page. */
#ifndef PL_PAGE_STYLE_H
#define PL_PAGE_STYLE_H

extern const char *const pl_style_sheet;

#endif
