/* A small judge of markup: every tag closed in order, every attribute quoted,
 * no script, nothing from outside. For pages and pictures. */
#ifndef TESTS_PAGE_MARKUP_H
#define TESTS_PAGE_MARKUP_H

#include "support.h"

static const char *const void_tags[] = { "meta", "!DOCTYPE" };

/* Fails with the place when the markup is not well-formed. */
static inline void assert_markup(const char *s)
{
    char open[64][24];
    size_t depth = 0;

    assert_non_null(s);
    for (const char *p = strchr(s, '<'); p; p = strchr(p, '<')) {
        const char *name = p + 1, *end;
        bool closing = *name == '/', alone = false;
        size_t n;

        name += closing;
        n = strcspn(name, " >/\n");
        if (!n || n >= 24)
            fail_msg("no tag at: %.60s", p);
        for (end = name + n; *end && *end != '>';) { /* attributes */
            if (*end == '"')
                end = strchr(end + 1, '"');
            if (!end)
                fail_msg("attribute not closed at: %.60s", p);
            if (*end == '<')
                fail_msg("bare < at: %.60s", p);
            end++;
        }
        if (!*end)
            fail_msg("tag not closed at: %.60s", p);
        alone = end[-1] == '/';
        for (size_t i = 0; i < 2; i++)
            alone = alone || (n == strlen(void_tags[i]) && !memcmp(name, void_tags[i], n));
        if (closing) {
            if (!depth || strncmp(open[depth - 1], name, n) || open[depth - 1][n])
                fail_msg("</%.*s> does not close <%s> at: %.60s", (int)n, name,
                         depth ? open[depth - 1] : "nothing", p);
            depth--;
        } else if (!alone) {
            assert_true(depth < 64);
            memcpy(open[depth], name, n);
            open[depth++][n] = '\0';
        }
        p = end;
    }
    if (depth)
        fail_msg("<%s> is never closed", open[depth - 1]);
    for (const char *p = s; (p = strchr(p, '&')) != NULL; p++)
        if (strncmp(p, "&amp;", 5) && strncmp(p, "&lt;", 4) && strncmp(p, "&gt;", 4) &&
            strncmp(p, "&quot;", 6) && strncmp(p, "&#39;", 5))
            fail_msg("bare & at: %.60s", p);
}

/* No script, no handler, nothing loaded; text that only looks so is escaped and
 * passes. */
static inline void assert_harmless(const char *s)
{
    static const char *const bad[] = { "<script",        "<img",        "<iframe", "<object",
                                       "<link",          "<a href=\"h", "<image",  "<use",
                                       "<foreignObject", "xlink",       "url(",    "@import",
                                       "javascript:" };

    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        if (strcasestr(s, bad[i]))
            fail_msg("holds %s", bad[i]);
    for (const char *p = strchr(s, '<'); p; p = strchr(p + 1, '<')) {
        size_t n = strcspn(p, ">");
        const char *on = memmem(p, n, " on", 3);

        if (on)
            fail_msg("a handler: %.60s", p);
    }
}

/* libxml2's xmllint agrees, where it is installed. */
static inline void assert_xml(const char *s)
{
    FILE *lint;

    if (system("command -v xmllint >/dev/null 2>&1"))
        return;
    lint = popen("xmllint --noout - 2>&1", "w");
    assert_non_null(lint);
    fputs(s, lint);
    assert_int_equal(pclose(lint), 0);
}

#endif
