/* Makes maxima.csv: both tails of the studentised range and of Dunnett's maxima in 64-bit
 * (long double) arithmetic, by definition: Gauss-Legendre panels over z, and a fine trapezoid rule
 * over ln s whose step is halved for the last column (largest relative change of a tail). gcc -O2
 * make_maxima.c -lm -o make_maxima && ./make_maxima > maxima.csv */
#include <math.h>
#include <stdio.h>

typedef long double q;
#define POINTS 24
static q gl_x[POINTS], gl_w[POINTS];

static void legendre(void)
{
    for (int i = 0; i < POINTS; i++) {
        q x = cosl(acosl(-1) * (i + 0.75L) / (POINTS + 0.5L)), d = 1;

        for (int it = 0; it < 100; it++) {
            q p0 = 1, p1 = x;

            for (int k = 2; k <= POINTS; k++) {
                q p = ((2 * k - 1) * x * p1 - (k - 1) * p0) / k;

                p0 = p1;
                p1 = p;
            }
            d = POINTS * (x * p1 - p0) / (x * x - 1);
            x -= p1 / d;
        }
        gl_x[i] = x;
        gl_w[i] = 2 / ((1 - x * x) * d * d);
    }
}

static q Phi(q z)
{
    return erfcl(-z * sqrtl(0.5L)) / 2;
}

typedef struct task {
    int kind; /* 0 range, 1 and 2 Dunnett's one- and two-sided */
    int count;
    const double *lambda;
} task;

/* Both parts of the integrand over z. */
static void integrand(const task *t, q w, q z, q *low, q *up)
{
    q phi = expl(-z * z / 2) / sqrtl(2 * acosl(-1)), inside = 1;

    if (t->kind == 0) {
        q one = z < w / 2 ? Phi(z) - Phi(z - w) : Phi(w - z) - Phi(-z);

        for (int i = 1; i < t->count; i++)
            inside *= one;
        /* a^n - b^n, as (a - b) times a sum of positive terms */
        q c = Phi(z - w), a = Phi(z), sum = 0, pa = 1;
        for (int i = 0; i < t->count - 1; i++) {
            q pb = 1;
            for (int j = 0; j < t->count - 2 - i; j++)
                pb *= a - c;
            sum += pa * pb;
            pa *= a;
        }
        *low = t->count * phi * inside;
        *up = t->count * phi * c * sum;
        return;
    }
    q out = 0, beyond = 0, in = 0; /* 1 - product, built up without cancellation */
    for (int i = 0; i < t->count; i++) {
        q l = t->lambda[i], r = sqrtl(1 - l * l);

        if (i == 0 || t->lambda[i] != t->lambda[i - 1]) {
            beyond = Phi(-(w - l * z) / r);
            if (t->kind == 2)
                beyond += Phi(-(w + l * z) / r);
            in = t->kind == 1       ? Phi((w - l * z) / r)
                 : fabsl(l * z) > w ? Phi((w - fabsl(l * z)) / r) - Phi((-w - fabsl(l * z)) / r)
                                    : 1 - beyond;
        }
        out += (1 - out) * beyond;
        inside *= in;
    }
    *low = phi * inside;
    *up = phi * out;
}

static void over_z(const task *t, q w, q *low, q *up)
{
    q reach = t->kind ? fabsl(w) : w / 2, a = -12 - (t->kind ? reach : 0), b = 12 + reach;
    int panels = 4 + (int)(b - a) / 4;
    q h = (b - a) / panels / 2;

    *low = *up = 0;
    for (int i = 0; i < panels; i++)
        for (int j = 0; j < POINTS; j++) {
            q l, u;

            integrand(t, w, a + (2 * i + 1) * h + h * gl_x[j], &l, &u);
            *low += gl_w[j] * h * l;
            *up += gl_w[j] * h * u;
        }
}

static void tails(const task *t, double df, double x, q step, q *low, q *up)
{
    q k = (q)df / 2, c, from, to;

    if (df > 1e300) {
        over_z(t, x, low, up);
        return;
    }
    c = 2 * expl(k * logl(k) - lgammal(k));
    step /= sqrtl(df + t->count);
    from = -(q)32 / df - 0.5L * log1pl((q)x * x / (2 * df)) - 10 / sqrtl(2 * k);
    to = 0.5L * log1pl(t->count / (q)df) +
         fminl(13 / sqrtl(2 * k), 0.5L * logl(1 + 160 / (q)df) + 1);
    *low = *up = 0;
    for (q v = from; v < to; v += step) {
        q l, u, g = c * expl(df * v - k * expl(2 * v));

        if (v > 0 && g < 1e-24L * fminl(*low, *up))
            break;
        over_z(t, x * expl(v), &l, &u);
        *low += step * g * l;
        *up += step * g * u;
    }
}

static void row(int kind, int count, double df, double x, const double *lambda)
{
    static const char *name[] = { "range", "dunnett1", "dunnett2" };
    task t = { kind, count, lambda };
    q l[2], u[2], off;
    char a[64], b[64];

    tails(&t, df, x, 0.25L, &l[0], &u[0]);
    tails(&t, df, x, 0.19L, &l[1], &u[1]);
    off = fmaxl(fabsl(l[0] / l[1] - 1), fabsl(u[0] / u[1] - 1));
    snprintf(a, sizeof a, "%.18Lg", l[1]);
    snprintf(b, sizeof b, "%.18Lg", u[1]);
    printf("%s,%d,%g,%.17g,", name[kind], count, df, x);
    for (int i = 0; kind && i < count; i++)
        printf("%s%.17g", i ? " " : "", lambda[i]);
    printf(",%s,%s,%.0e\n", a, b, (double)off);
    fflush(stdout);
}

int main(void)
{
    const double inf = __builtin_inf(), H = 0.70703125;
    static const int means[] = { 2, 3, 8, 30 };
    const struct {
        double df, x[4];
    } range[] = { { 3, { 0.25, 3, 20 } },
                  { 7.5, { 0.25, 2.5, 9 } },
                  { 56, { 0.125, 1, 4.375, 12 } },
                  { 1000, { 2, 7 } },
                  { inf, { 0.03125, 0.5, 4.25, 11 } } },
      many[] = { { 3, { 0.25, 3, 25 } },
                 { 14, { 0.125, 2.5, 8 } },
                 { 96, { 1, 3, 6 } },
                 { inf, { 0.5, 2.75, 9 } } };
    const double same[12] = { H, H, H, H, H, H, H, H, H, H, H, H },
                 mixed[4] = { 0.25, 0.5, 0.75, 0.875 },
                 two[6] = { 0.46875, 0.46875, 0.46875, 0.46875, 0.9375, 0.9375 };

    legendre();
    puts("# Both tails of the studentised range and of Dunnett's maxima; made by make_maxima.c "
         "beside\n"
         "# this file. count: means, or contrasts; off: relative change on a finer rule.\n"
         "kind,count,df,x,lambda,lower,upper,off");
    for (int m = 0; m < 4; m++)
        for (int i = 0; i < 5; i++)
            for (int j = 0; j < 4 && range[i].x[j] > 0; j++)
                row(0, means[m], range[i].df, range[i].x[j], NULL);
    for (int sides = 1; sides <= 2; sides++) {
        for (int i = 0; i < 4; i++)
            for (int j = 0; j < 4 && many[i].x[j] > 0; j++) {
                row(sides, 1, many[i].df, many[i].x[j], same);
                row(sides, 3, many[i].df, many[i].x[j], same);
                row(sides, 12, many[i].df, many[i].x[j], same);
                row(sides, 4, many[i].df, many[i].x[j], mixed);
                row(sides, 6, many[i].df, many[i].x[j], two);
            }
        if (sides == 1) {
            row(1, 3, 14, -1.5, same);
            row(1, 4, 14, -3, mixed);
        }
    }
    return 0;
}
