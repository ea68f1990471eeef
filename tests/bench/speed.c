/* Rates of the functions that tests/bench-speed.sh lays beside R's and SciPy's: processor seconds
 * of one core, the least of several runs. usage:
 *   speed power            exact one-way power, microseconds a value
 *   speed ncf              both tails of noncentral F over the grid of tails.R, values a second
 *   speed range            both tails of the studentised range, values a second
 *   speed reml FILE        board,treatment,y without a heading: fits a second, then the answer
 *   speed cpu TIMES COMMAND...  processor seconds of a whole process, the least of so many */
#include <fcntl.h>
#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "base/prob.h"
#include "base/stream.h"
#include "fit/reml.h"
#include "size/power.h"

#define RUNS 7

static double now_s(void)
{
    struct timespec t;

    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static double least_s(void (*f)(void *), void *ctx)
{
    double best = INFINITY;

    for (int i = 0; i < RUNS; i++) {
        double from = now_s();

        f(ctx);
        best = fmin(best, now_s() - from);
    }
    return best;
}

static volatile double sink;

/* 8 levels, 3 to 12 of each, distances of 0.1 to 2 scatters. */
static void powers(void *ctx)
{
    size_t *n = ctx;

    *n = 0;
    for (int per = 3; per <= 12; per++)
        for (int d = 1; d <= 200; d++, ++*n) {
            pl_real p = { 0, 0 };

            (void)pl_power_ftest(7, 8 * (per - 1), per * 1e-4 * d * d / 2, 0.05, &p, NULL);
            sink = p.value;
        }
}

#define GRID_MOST 4096
typedef struct grid {
    size_t n;
    double x[GRID_MOST], df1[GRID_MOST], df2[GRID_MOST], lambda[GRID_MOST];
} grid;

static void make_grid(grid *g)
{
    static const double df2[] = { 2, 3, 5, 8, 12, 20, 30, 60, 100, 200, 500, 1000 };
    static const double lambda[] = { 0.1, 0.5, 1, 3, 10, 30, 60, 100, 200, 350, 500 };
    static const double alpha[] = { 0.05, 0.01, 0.001 };

    g->n = 0;
    for (int df1 = 1; df1 <= 11; df1 += 2)
        for (size_t i = 0; i < 12; i++)
            for (size_t j = 0; j < 11; j++)
                for (size_t k = 0; k < 3; k++) {
                    g->df1[g->n] = df1;
                    g->df2[g->n] = df2[i];
                    g->lambda[g->n] = lambda[j];
                    g->x[g->n++] = pl_f_quantile_upper(alpha[k], df1, df2[i]);
                }
}

static void tails(void *ctx)
{
    const grid *g = ctx;

    for (size_t i = 0; i < g->n; i++) {
        pl_tails t = { { 0, 0 }, { 0, 0 } };

        (void)pl_ncf(g->x[i], g->df1[i], g->df2[i], g->lambda[i], &t);
        sink = t.upper.value + t.lower.value;
    }
}

/* 8 means, 5 to 120 degrees of freedom, q from 1 to 6. */
static void ranges(void *ctx)
{
    static const double df[] = { 5, 10, 16, 24, 40, 88, 120 };
    size_t *n = ctx;

    *n = 0;
    for (size_t i = 0; i < 7; i++)
        for (int q = 10; q <= 60; q += 2, ++*n) {
            pl_tails t = { { 0, 0 }, { 0, 0 } };

            (void)pl_range(q / 10.0, 8, df[i], &t);
            sink = t.upper.value + t.lower.value;
        }
}

/* ---- boards ---- */

#define ROWS_MOST 4096
#define TREATMENTS 8
typedef struct boards {
    pl_reml_data d;
    double x[TREATMENTS * ROWS_MOST], y[ROWS_MOST];
    int code[ROWS_MOST], treatment[ROWS_MOST];
    const int *codes[1];
    size_t nlevel[1], fits;
    pl_arena *a;
    pl_reml out;
} boards;

static int read_boards(const char *path, boards *b)
{
    FILE *f = fopen(path, "r");
    int board, treatment;
    double y;

    if (!f)
        return 1;
    while (b->d.n < ROWS_MOST && fscanf(f, "%d,%d,%lf", &board, &treatment, &y) == 3) {
        b->code[b->d.n] = board;
        b->treatment[b->d.n] = treatment;
        b->nlevel[0] = (size_t)board + 1;
        b->y[b->d.n++] = y;
    }
    fclose(f);
    for (size_t i = 0; i < b->d.n; i++)
        b->x[(size_t)b->treatment[i] * b->d.n + i] = 1;
    b->codes[0] = b->code;
    b->d = (pl_reml_data){ b->d.n, TREATMENTS, b->x, b->y, 1, b->codes, b->nlevel };
    b->a = pl_arena_new((size_t)1 << 30);
    return !b->a;
}

static void fit_boards(void *ctx)
{
    boards *b = ctx;
    pl_diags d;

    for (size_t i = 0; i < b->fits; i++) {
        pl_mark mark = pl_arena_mark(b->a);

        pl_diags_init(&d, b->a);
        if (pl_reml_fit(b->a, &b->d, &b->out, &d))
            exit(1);
        if (i + 1 < b->fits)
            pl_arena_reset(b->a, mark);
    }
}

static int reml(const char *path)
{
    static boards b;
    double s;

    if (read_boards(path, &b))
        return 1;
    b.fits = 200;
    s = least_s(fit_boards, &b);
    printf("%.6g %.15g %.15g", (double)b.fits / s, sqrt(b.out.variance[1]),
           sqrt(b.out.variance[0]));
    for (size_t i = 0; i < TREATMENTS; i++)
        printf(" %.15g", b.out.beta[i]);
    printf("\n");
    pl_arena_free(b.a);
    return 0;
}

static int whole_process(int times, char **command)
{
    double best = INFINITY;

    for (int i = 0; i < times; i++) {
        struct rusage used;
        int status, nowhere = open("/dev/null", O_WRONLY);
        pid_t child = fork();

        if (!child) {
            dup2(nowhere, 1);
            dup2(nowhere, 2);
            execvp(command[0], command);
            _exit(127);
        }
        if (child < 0 || wait4(child, &status, 0, &used) < 0 || status)
            return 1;
        close(nowhere);
        best = fmin(best, (double)(used.ru_utime.tv_sec + used.ru_stime.tv_sec) +
                              1e-6 * (double)(used.ru_utime.tv_usec + used.ru_stime.tv_usec));
    }
    printf("%.6f\n", best);
    return 0;
}

int main(int argc, char **argv)
{
    static grid g;
    size_t n = 0;
    double s;

    gsl_set_error_handler_off();
    if (argc == 2 && !strcmp(argv[1], "power")) {
        s = least_s(powers, &n);
        printf("%.4g\n", 1e6 * s / (double)n);
    } else if (argc == 2 && !strcmp(argv[1], "ncf")) {
        make_grid(&g);
        printf("%.6g\n", 2 * (double)g.n / least_s(tails, &g));
    } else if (argc == 2 && !strcmp(argv[1], "range")) {
        s = least_s(ranges, &n);
        printf("%.6g\n", 2 * (double)n / s);
    } else if (argc == 3 && !strcmp(argv[1], "reml")) {
        return reml(argv[2]);
    } else if (argc > 3 && !strcmp(argv[1], "cpu")) {
        return whole_process(atoi(argv[2]), argv + 3);
    } else {
        return 2;
    }
    return 0;
}
