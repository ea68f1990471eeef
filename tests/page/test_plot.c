/* Pictures: scripts byte for byte, hostile words, the place of dots, the SVG
 * that is taken over, and gnuplot missing, failing, hanging. */
#include "support.h"

#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "base/file.h"
#include "markup.h"
#include "page/plot.h"
#include "page/plot_inner.h"

static const char hostile[] =
    "it's \"<script>\" `touch ruin` @x {/=30 a}^b\nset out 'ruin' \\n 50 % "
    "& \xff";

static const double xs[] = { 0.2, 0.5, 1.3 }, ys[] = { 4.1, 7.9, 8.3 };
static const double lows[] = { 3.5, 7.2, -INFINITY }, highs[] = { 4.9, 8.6, INFINITY };
static const double from[] = { 0.4 }, to[] = { 0.9 };
static const char *const words[] = { "first", "second", "third" };

/* A layer of each kind. */
static const pl_layer layers[] = {
    { .kind = PL_LAYER_SPANS,
      .name = "onset",
      .n = 1,
      .low = from,
      .high = to,
      .hue = PL_HUE_ORANGE },
    { .kind = PL_LAYER_UPRIGHTS,
      .name = "advised",
      .n = 1,
      .x = to,
      .hue = PL_HUE_ORANGE,
      .dashed = true },
    { .kind = PL_LAYER_LEVELS, .n = 1, .y = ys, .hue = PL_HUE_GREY },
    { .kind = PL_LAYER_BAND,
      .name = "band",
      .n = 3,
      .x = xs,
      .low = lows,
      .high = highs,
      .hue = PL_HUE_BLUE },
    { .kind = PL_LAYER_LINE, .name = "curve", .n = 3, .x = xs, .y = ys, .hue = PL_HUE_BLUE },
    { .kind = PL_LAYER_BARS, .n = 3, .x = xs, .low = lows, .high = highs, .hue = PL_HUE_GREY },
    { .kind = PL_LAYER_ACROSS, .n = 1, .y = ys, .low = from, .high = to, .hue = PL_HUE_GREEN },
    { .kind = PL_LAYER_MARKS, .name = "mean", .n = 3, .x = xs, .y = ys },
    { .kind = PL_LAYER_POINTS,
      .name = "joint",
      .n = 3,
      .x = xs,
      .y = ys,
      .words = words,
      .hue = PL_HUE_BLUE },
    { .kind = PL_LAYER_WORDS, .n = 1, .x = xs, .y = ys, .words = words },
};

static const pl_plot plot = {
    .title = "strength by pressure",
    .x = { .label = "pressure, N/mm2", .log = true },
    .y = { .label = "strength, N/mm2", .from_zero = true },
    .layers = layers,
    .nlayers = sizeof layers / sizeof *layers,
};

/* Scripts are golden byte by byte; gnuplot draws the files as they are.
 * PLATEN_REWRITE=1 writes them anew: look at the picture before committing. */
static void assert_golden(bench *b, const char *script, const char *name)
{
    char *path = pl_file_join(b->a, top_path(b->a, "tests/page"), name), *wanted;
    size_t n;

    assert_non_null(script);
    if (getenv("PLATEN_REWRITE"))
        assert_ok(b, pl_file_write(path, script, strlen(script), true, &b->d));
    assert_ok(b, pl_file_read(b->a, path, &wanted, &n, &b->d));
    assert_string_equal(script, wanted);
}

static void test_scripts(void **state)
{
    bench *b = *state;

    assert_golden(b, pl_plot_script(b->a, &plot, PL_PLOT_WIDE, 0, 0), "wide.gp");
    assert_golden(b, pl_plot_script(b->a, &plot, PL_PLOT_NARROW, 0, 0), "narrow.gp");
    assert_golden(b, pl_plot_script(b->a, &plot, PL_PLOT_PNG, 0, 0), "png.gp");
    assert_golden(b, pl_plot_script(b->a, &plot, PL_PLOT_PDF, 0, 0), "pdf.gp");
    assert_golden(b, pl_plot_script(b->a, &plot, PL_PLOT_TERMINAL, 60, 16), "terminal.gp");
}

/* Words stand in single quotes and nowhere else; outside of quotes and data a
 * script holds none of what gnuplot would expand. */
static void assert_quoted(const char *script)
{
    for (const char *line = script; *line;) {
        size_t n = strcspn(line, "\n");
        bool quoted = false;

        for (size_t i = 0; i < n; i++) {
            quoted = quoted != (line[i] == '\'');
            if (!quoted && strchr("`@{}\"", line[i]))
                fail_msg("bare %c in: %.*s", line[i], (int)n, line);
        }
        if (quoted)
            fail_msg("quote not closed in: %.*s", (int)n, line);
        line += n + (line[n] == '\n');
    }
}

static void test_hostile(void **state)
{
    bench *b = *state;
    const char *const bad[] = { hostile, hostile, hostile };
    const double ticks[] = { 0.3, 1 };
    pl_layer own[sizeof layers / sizeof *layers];
    pl_plot p = plot;
    char *text, *svg;
    size_t length;

    memcpy(own, layers, sizeof layers);
    for (size_t i = 0; i < plot.nlayers; i++) {
        own[i].name = hostile;
        own[i].words = own[i].words ? bad : NULL;
    }
    p.layers = own;
    p.title = p.x.label = p.y.label = hostile;
    p.x.ticks = ticks;
    p.x.tick_words = bad;
    p.x.nticks = 2;
    for (pl_plot_form f = PL_PLOT_WIDE; f <= PL_PLOT_TERMINAL; f++)
        assert_quoted(pl_plot_script(b->a, &p, f, 79, 24));
    for (pl_plot_form f = PL_PLOT_WIDE; f <= PL_PLOT_NARROW; f++) {
        assert_ok(b, pl_plot_svg(b->a, &p, f, &svg, &b->d));
        assert_markup(svg);
        assert_harmless(svg);
        assert_xml(svg);
        /* by gnuplot: as a label; a tick's % was doubled for it */
        assert_non_null(strstr(svg, "<text>it's \"&lt;script>\" `touch ruin` @x {/=30 a}^b set out "
                                    "'ruin' \\n 50 % &amp; ?</text>"));
        /* by us */
        assert_non_null(strstr(svg, "<title>it&#39;s &quot;&lt;script&gt;&quot; `touch ruin`"));
    }
    assert_ok(b, pl_plot_text(b->a, &p, 79, 24, &text, &b->d));
    assert_non_null(strstr(text, "`touch ruin`"));
    assert_ok(b, pl_plot_file(b->a, &p, PL_PLOT_PNG, &text, &length, &b->d));
    assert_true(length > 1000 && !memcmp(text, "\x89PNG\r\n\x1a\n", 8));
    assert_ok(b, pl_plot_file(b->a, &p, PL_PLOT_PDF, &text, &length, &b->d));
    assert_true(length > 1000 && !memcmp(text, "%PDF-1.", 7));
    assert_ok(b, pl_plot_file(b->a, &p, PL_PLOT_WIDE, &text, &length, &b->d));
    assert_int_equal(length, strlen(text));
    assert_false(strncmp(text, "<?xml version=", 14));
    assert_xml(strchr(text, '\n') + 1);
    assert_int_equal(b->d.count, 0);
    assert_int_equal(access("ruin", F_OK), -1);
}

/* Our dots lie where gnuplot would draw them: the same values as a curve. */
static void test_places(void **state)
{
    bench *b = *state;

    for (int log = 0; log < 2; log++)
        for (pl_plot_form f = PL_PLOT_WIDE; f <= PL_PLOT_NARROW; f++) {
            pl_layer pair[2] = { layers[4], layers[8] };
            pl_plot p = plot;
            char *svg, *line, *dot;

            p.layers = pair;
            p.nlayers = 2;
            p.x.log = p.y.log = log;
            p.y.from_zero = false;
            assert_ok(b, pl_plot_svg(b->a, &p, f, &svg, &b->d));
            line = strstr(svg, "<path stroke=\"rgb( 49, 107, 229)\" d=\"M");
            assert_non_null(line);
            line = strchr(line, 'M');
            dot = strstr(svg, "cx="); /* the first is the key's */
            for (size_t i = 0; i < 3; i++) {
                double x, y, cx, cy;

                assert_int_equal(sscanf(line, "%*c%lf,%lf", &x, &y), 2);
                dot = strstr(dot + 1, "cx=");
                assert_int_equal(sscanf(dot, "cx=\"%lf\" cy=\"%lf\"", &cx, &cy), 2);
                assert_abs("x", cx, x, 0.03); /* gnuplot rounds to 1/100 */
                assert_abs("y", cy, y, 0.03);
                line = strpbrk(line + 1, "L ");
                line = i < 2 ? strchr(line, 'L') : line;
            }
        }
}

static void test_svg(void **state)
{
    bench *b = *state;
    char *svg;
    size_t titles = 0;

    assert_ok(b, pl_plot_svg(b->a, &plot, PL_PLOT_WIDE, &svg, &b->d));
    assert_markup(svg);
    assert_harmless(svg);
    assert_xml(svg);
    assert_null(strstr(svg, "id="));
    assert_null(strstr(svg, "black"));
    assert_null(strstr(svg, "Arial"));
    assert_non_null(strstr(svg, "viewBox=\"0 0 760 440\""));
    assert_non_null(strstr(svg, "aria-label=\"strength by pressure\""));
    assert_non_null(strstr(svg, "currentColor"));
    for (const char *p = svg; (p = strstr(p, "<title>")) != NULL; p++)
        titles++;
    assert_int_equal(titles, 3); /* one a dot */
    assert_non_null(strstr(svg, "r=\"4.20\"><title>second</title></circle>"));
}

static size_t dots_of(const char *svg, double *x, double *y, size_t most)
{
    size_t n = 0;

    for (const char *p = svg; n < most && (p = strstr(p, "<circle cx=")) != NULL; p++, n++)
        sscanf(p, "<circle cx=\"%lf\" cy=\"%lf\"", &x[n], &y[n]);
    return n;
}

/* Eight equal dots stand side by side; their height is never touched. */
static void test_spread(void **state)
{
    bench *b = *state;
    const double one[] = { 1, 1, 1, 1, 1, 1, 1, 1 };
    pl_layer l = { .kind = PL_LAYER_POINTS, .n = 8, .x = one, .y = one, .spread = true };
    pl_plot p = { .layers = &l, .nlayers = 1 };
    double x[8], y[8];
    char *svg;

    assert_ok(b, pl_plot_svg(b->a, &p, PL_PLOT_WIDE, &svg, &b->d));
    assert_int_equal(dots_of(svg, x, y, 9), 8);
    for (size_t i = 0; i < 8; i++)
        for (size_t j = 0; j < i; j++) {
            assert_true(fabs(x[i] - x[j]) >= 2 * PL_DOT_PX);
            assert_true(y[i] == y[j]);
        }
    l.spread = false;
    assert_ok(b, pl_plot_svg(b->a, &p, PL_PLOT_WIDE, &svg, &b->d));
    dots_of(svg, x, y, 8);
    assert_true(x[0] == x[7]);
}

static pl_layout laid_out(bench *b, const pl_axis x, const double *values, size_t n)
{
    pl_layer l = { .kind = PL_LAYER_POINTS, .n = n, .x = values, .y = values };
    pl_plot p = { .x = x, .layers = &l, .nlayers = 1 };
    pl_layout layout;

    assert_true(pl_plot_lay_out(b->a, &p, PL_PLOT_WIDE, 0, 0, &layout));
    return layout;
}

static char *ticks_of(bench *b, const pl_axis x, const double *values, size_t n)
{
    pl_layout l = laid_out(b, x, values, n);
    pl_text t;

    pl_text_init(&t, b->a);
    for (size_t i = 0; i < l.x.nticks; i++)
        pl_text_add(&t, "%s%s", i ? " " : "", l.x.words[i]);
    return pl_text_done(&t);
}

static void test_ticks(void **state)
{
    bench *b = *state;
    const double zero_to_ten[] = { 0, 10 }, small[] = { 0.001, 0.0042 }, wide[] = { 1e-3, 1e9 },
                 one[] = { 7 }, large[] = { 1e9, 1e9 + 3 }, psi[] = { 1.2, 1400 },
                 close[] = { 2.1, 3.7 }, none[] = { NAN }, minus[] = { -40, 25 };
    const pl_axis linear = { 0 }, logs = { .log = true };

    assert_string_equal(ticks_of(b, linear, zero_to_ten, 2), "0 1 2 3 4 5 6 7 8 9 10");
    assert_string_equal(ticks_of(b, linear, small, 2),
                        "0.0010 0.0015 0.0020 0.0025 0.0030 0.0035 0.0040");
    assert_string_equal(ticks_of(b, linear, minus, 2), "-40 -30 -20 -10 0 10 20");
    assert_string_equal(ticks_of(b, linear, one, 1), "6.7 6.8 6.9 7.0 7.1 7.2 7.3");
    assert_string_equal(ticks_of(b, linear, large, 2),
                        "1000000000 1000000001 1000000002 1000000003");
    assert_string_equal(ticks_of(b, linear, none, 1), "0 0.1 0.2 0.3 0.4 0.5 0.6 0.7 0.8 0.9 1.0");
    assert_string_equal(ticks_of(b, logs, psi, 2), "1 2 5 10 20 50 100 200 500 1000");
    assert_string_equal(ticks_of(b, logs, wide, 2), "0.01 1 100 10000 1000000 1e+08");
    assert_string_equal(ticks_of(b, logs, close, 2), "2.2 2.4 2.6 2.8 3.0 3.2 3.4 3.6 3.8");
}

static void test_range(void **state)
{
    bench *b = *state;
    const double values[] = { 2, 12 }, infinite[] = { 1, INFINITY, NAN, 3 },
                 mixed[] = { -1, 0, 1, 10 };
    pl_layout l = laid_out(b, (pl_axis){ 0 }, values, 2);

    assert_abs("low", l.x.low, 1.5, 1e-12);
    assert_abs("high", l.x.high, 12.5, 1e-12);
    l = laid_out(b, (pl_axis){ .from_zero = true }, values, 2);
    assert_true(l.x.low == 0);
    assert_abs("high", l.x.high, 12.6, 1e-12);
    l = laid_out(b, (pl_axis){ .low = 3, .high = 5 }, values, 2);
    assert_true(l.x.low == 3 && l.x.high == 5);
    l = laid_out(b, (pl_axis){ 0 }, infinite, 4);
    assert_abs("infinite", l.x.high, 3.1, 1e-12);
    l = laid_out(b, (pl_axis){ .log = true }, mixed, 4);
    assert_true(l.x.low > 0.8 && l.x.low < 1);
}

/* Words too close for their axis: numbers are thinned out, names are slanted. */
static void test_tight_ticks(void **state)
{
    bench *b = *state;
    const double at[] = { 1, 1.01, 1.02, 1.03, 1.04, 5 };
    const char *const names[] = { "one name", "two names", "three", "four", "five", "six" };
    pl_layout l = laid_out(b, (pl_axis){ .ticks = at, .nticks = 6 }, at, 6);

    assert_int_equal(l.x.nticks, 2);
    assert_string_equal(l.x.words[1], "5");
    l = laid_out(b, (pl_axis){ .ticks = at, .nticks = 6, .tick_words = names }, at, 6);
    assert_int_equal(l.x.nticks, 6);
    assert_true(l.x.slanted);
}

/* Long names of levels leave half the picture to the picture. */
static void test_long_words(void **state)
{
    bench *b = *state;
    const double at[] = { 1, 2 };
    const char *const names[] = { "European larch, second board of the lower stack \xc3\xa9",
                                  "oak" };
    pl_layer l = { .kind = PL_LAYER_POINTS, .n = 2, .x = at, .y = at };
    pl_plot p = { .y = { .ticks = at, .nticks = 2, .tick_words = names },
                  .layers = &l,
                  .nlayers = 1 };
    pl_layout layout;

    assert_true(pl_plot_lay_out(b->a, &p, PL_PLOT_NARROW, 0, 0, &layout));
    assert_string_equal(layout.y.words[0], "European larch, sec\xe2\x80\xa6");
    assert_string_equal(layout.y.words[1], "oak");
    assert_true(layout.x.px_low < 200);
}

static void test_terminal(void **state)
{
    bench *b = *state;
    const double x[] = { 1, 2, 3 }, y[] = { 1, 3, 2 };
    const pl_layer l[] = { { .kind = PL_LAYER_LINE, .name = "curve", .n = 3, .x = x, .y = y },
                           { .kind = PL_LAYER_POINTS, .name = "joint", .n = 3, .x = x, .y = y } };
    const pl_plot p = { .x = { .label = "pressure" }, .layers = l, .nlayers = 2 };
    char *text;

    assert_ok(b, pl_plot_text(b->a, &p, 50, 12, &text, &b->d));
    assert_non_null(text);
    assert_null(strchr(text, '\f'));
    assert_null(strstr(text, " \n"));
    assert_non_null(strstr(text, "pressure\n   * curve   o joint\n"));
    assert_non_null(strstr(text, "o**"));
    for (const char *s = text; *s; s += strcspn(s, "\n") + 1)
        assert_true(strcspn(s, "\n") <= 50);
}

/* ------------------------------------------------- what is taken over ---- */

static bool taken(bench *b, const char *svg, const char **out)
{
    bool fine;
    pl_text t;

    pl_text_init(&t, b->a);
    fine = pl_svg_take_over(&t, svg);
    if (out)
        *out = pl_text_done(&t);
    return fine;
}

static void test_take_over(void **state)
{
    bench *b = *state;
    const char *out;

    assert_true(taken(b,
                      "<?xml version=\"1.0\"?><svg viewBox=\"0 0 1 1\"><title>G</title>\n"
                      "<!-- a <comment> --><g id=\"gnuplot_canvas\"><defs><filter id='f'><feFlood "
                      "x='1'/></filter><use xlink:href='#a'/></defs>\n<g fill='none'>\n</g>"
                      "<g color=\"black\" fill=\"black\" stroke='rgb(  0,   0,   0)' "
                      "font-family=\"Arial\"><text>a &lt; b</text></g></g></svg>",
                      &out));
    assert_string_equal(out, "<g><g fill=\"currentColor\" stroke=\"currentColor\">"
                             "<text>a &lt; b</text>\n</g>\n</g>\n");
}

static void test_take_over_refusals(void **state)
{
    bench *b = *state;
    const char *bad[] = {
        "",
        "<svg",
        "<svg></g>",
        "<svg><g></svg>",
        "<svg><g></path></svg>",
        "<svg><script>x</script></svg>",
        "<svg><a href=\"x\"></a></svg>",
        "<svg><image x=\"1\"/></svg>",
        "<svg><use x=\"1\"/></svg>",
        "<svg><g fill=\"url(x)\"></g></svg>",
        "<svg><g fill=\"a&quot;b\"></g></svg>",
        "<svg><g fill=\"a;b\"></g></svg>",
        "<svg><g fill=none></g></svg>",
        "<svg><g fill></g></svg>",
        "<svg><g fill=\"x></g></svg>",
        "<svg><g x=\"1\"/",
        "<svg><!-- never closed",
        "<svg><![CDATA[x]]></svg>",
        "<svg><g><g><g><g><g><g><g><g><g><g><g><g><g><g><g><g><g><g><g></svg>",
    };

    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        if (taken(b, bad[i], NULL))
            fail_msg("taken over: %s", bad[i]);
}

/* ---------------------------------------------------- gnuplot's moods ---- */

/* A program in place of gnuplot. */
static void pretend(bench *b, const char *script)
{
    char path[] = P_tmpdir "/platen-gnuplot-XXXXXX";
    int fd = mkstemp(path);
    FILE *f = fdopen(fd, "w");

    fprintf(f, "#!/bin/sh\n%s\n", script);
    fclose(f);
    chmod(path, 0700);
    setenv("PLATEN_GNUPLOT", pl_arena_str(b->a, path), 1);
}

static void end_pretending(void)
{
    unlink(getenv("PLATEN_GNUPLOT"));
    unsetenv("PLATEN_GNUPLOT");
}

static void test_missing(void **state)
{
    bench *b = *state;
    pl_page *page = pl_page_new(b->a, "T", NULL);
    char *svg;

    setenv("PLATEN_GNUPLOT", "/nowhere/gnuplot", 1);
    assert_ok(b, pl_plot_svg(b->a, &plot, PL_PLOT_WIDE, &svg, &b->d));
    assert_null(svg);
    assert_finding(b,
                   "picture: advice: found gnuplot is not installed, expected a picture drawn by "
                   "gnuplot\n  mend: install gnuplot (Debian: gnuplot-nox); all figures stand in "
                   "the tables too");
    assert_ok(b, pl_page_plot(page, &plot, "caption", &b->d));
    unsetenv("PLATEN_GNUPLOT");
    assert_non_null(
        strstr(pl_page_done(b->a, page), "A picture belongs here but could not be drawn"));
}

static void test_failing(void **state)
{
    bench *b = *state;
    char *out;
    size_t n;

    pretend(b, "echo drawn; echo 'line 7: no such thing' >&2; exit 3");
    assert_ok(b, pl_gnuplot_run(b->a, "x", 2000, &out, &n, &b->d));
    end_pretending();
    assert_null(out);
    assert_finding(b, "found gnuplot failed: line 7: no such thing");
    pretend(b, "kill -9 $$");
    assert_ok(b, pl_gnuplot_run(b->a, "x", 2000, &out, &n, &b->d));
    end_pretending();
    assert_finding(b, "found gnuplot failed: no reason given");
    pretend(b, "exit 0");
    assert_ok(b, pl_gnuplot_run(b->a, "x", 2000, &out, &n, &b->d));
    end_pretending();
    assert_finding(b, "found gnuplot drew nothing");
    pretend(b, "echo '<svg><script>1</script></svg>'");
    assert_ok(b, pl_plot_svg(b->a, &plot, PL_PLOT_WIDE, &out, &b->d));
    end_pretending();
    assert_null(out);
    assert_finding(b, "found an SVG of a kind not known here");
}

/* It hangs, with its output open or closed, and so does what it started. */
static void test_hanging(void **state)
{
    bench *b = *state;
    struct timespec start, end;
    char *out;
    size_t n;

    clock_gettime(CLOCK_MONOTONIC, &start);
    pretend(b, "sleep 60 & sleep 60");
    assert_ok(b, pl_gnuplot_run(b->a, "x", 200, &out, &n, &b->d));
    end_pretending();
    assert_null(out);
    assert_finding(b, "found gnuplot did not end in time");
    pretend(b, "exec >&- 2>&-; sleep 60");
    assert_ok(b, pl_gnuplot_run(b->a, "x", 200, &out, &n, &b->d));
    end_pretending();
    clock_gettime(CLOCK_MONOTONIC, &end);
    assert_true(end.tv_sec - start.tv_sec < 5);
}

/* Floods both its ends, and reads nothing of a long script. */
static void test_flooding(void **state)
{
    bench *b = *state;
    char *script = malloc(2000001), *out;
    size_t n;

    memset(script, '#', 2000000);
    script[2000000] = '\0';
    pretend(b, "yes | head -c 300000 >&2; yes no | head -c 300000");
    assert_ok(b, pl_gnuplot_run(b->a, script, 5000, &out, &n, &b->d));
    end_pretending();
    assert_int_equal(n, 300000);
    pretend(b, "exec yes");
    assert_ok(b, pl_gnuplot_run(b->a, script, 10000, &out, &n, &b->d));
    end_pretending();
    assert_null(out);
    assert_finding(b, "found gnuplot wrote more than 32 MiB");
    free(script);
}

/* The script reaches it whole, and nothing of the caller's environment but the
 * path. */
static void test_surroundings(void **state)
{
    bench *b = *state;
    char *out;
    size_t n;

    setenv("GNUTERM", "x11", 1);
    pretend(b, "cat; echo \"[$1] [$GNUTERM] [$HOME] $LC_ALL\"");
    assert_ok(b, pl_gnuplot_run(b->a, "a script\n", 2000, &out, &n, &b->d));
    end_pretending();
    unsetenv("GNUTERM");
    assert_string_equal(out, "a script\n[-d] [] [] C.UTF-8\n");
}

/* ------------------------------------------------------------ memory ---- */

static void test_no_memory(void **state)
{
    bool armed = false;

    (void)state;
    pretend(*state, "cat >/dev/null; echo '<svg><g><path d=\"M0,0\"/></g></svg>'");
    for (unsigned long n = 1; !armed; n++) {
        char *svg;
        pl_code code;
        bench b;

        b.a = pl_arena_new(0);
        pl_diags_init(&b.d, b.a);
        pl_arena_fail_at(n);
        code = pl_plot_svg(b.a, &plot, PL_PLOT_WIDE, &svg, &b.d);
        armed = code == PL_OK;
        pl_arena_fail_at(0);
        assert_true(code == PL_OK ? svg != NULL : code == PL_ENOMEM && !svg);
        assert_true(n < 500 && (!armed || n > 20));
        pl_arena_free(b.a);
    }
    end_pretending();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_scripts),  TEST(test_hostile),      TEST(test_places),
        TEST(test_svg),      TEST(test_spread),       TEST(test_ticks),
        TEST(test_range),    TEST(test_tight_ticks),  TEST(test_long_words),
        TEST(test_terminal), TEST(test_take_over),    TEST(test_take_over_refusals),
        TEST(test_missing),  TEST(test_failing),      TEST(test_hanging),
        TEST(test_flooding), TEST(test_surroundings), TEST(test_no_memory),
    };

    return cmocka_run_group_tests_name("plot", tests, NULL, NULL);
}
