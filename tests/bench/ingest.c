/* For tests/bench-ingest.sh: makes a long record, and reads one as `platen take` does,
 * child process, plugin and trace work included, without the book. Prints seconds of
 * processor time and MiB.
 *
 *   ingest make FILE ROWS     time [s] and force [N]; a ramp with a little noise, a break
 *   ingest read FILE          child and parent: seconds, largest resident memory, peak
 *   ingest digest FILE        SHA-256, which take does beside
 *   ingest time N COMMAND...  least of N runs: seconds, largest resident memory */
#include <fcntl.h>
#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base/file.h"
#include "base/json.h"
#include "rigs/rigs.h"

static const char rig_text[] = "{\"name\": \"bench\", \"kind\": \"load-cell\","
                               " \"dial\": {\"unit\": \"kN\"}}";

static double used_s(int who)
{
    struct rusage u;

    getrusage(who, &u);
    return (double)(u.ru_utime.tv_sec + u.ru_stime.tv_sec) +
           1e-6 * (double)(u.ru_utime.tv_usec + u.ru_stime.tv_usec);
}

static double largest_mib(void)
{
    struct rusage self, children;

    getrusage(RUSAGE_SELF, &self);
    getrusage(RUSAGE_CHILDREN, &children);
    return (double)(self.ru_maxrss > children.ru_maxrss ? self.ru_maxrss : children.ru_maxrss) /
           1024;
}

static int make(const char *path, long rows)
{
    FILE *f = fopen(path, "w");

    if (!f)
        return 1;
    fputs("time [s],force [N]\n", f);
    for (long i = 0; i < rows; i++) {
        double x = (double)i / (double)rows, noise = 3 * sin((double)i * 0.7);
        double force = x < 0.001 ? noise : x < 0.98 ? 9000 * (x - 0.001) / 0.979 + noise : 600;

        fprintf(f, "%.4f,%.2f\n", (double)i * 1e-4, force);
    }
    return fclose(f) != 0;
}

static int read_record(pl_arena *a, const char *path, pl_diags *d)
{
    const pl_json *object;
    pl_readings r = { 0 };
    pl_rig rig;
    pl_code code = pl_json_parse(a, "rig", rig_text, strlen(rig_text), &object, d);

    if (!code)
        code = pl_rig_from_json(a, object, &rig, d);
    if (!code)
        code = pl_rigs_read(a, &rig, path, "X", &r, d);
    if (!code)
        printf("%.3f %.1f %.10g\n", used_s(RUSAGE_SELF) + used_s(RUSAGE_CHILDREN), largest_mib(),
               r.items[0].value);
    return code != PL_OK;
}

static int digest(pl_arena *a, const char *path, pl_diags *d)
{
    int fd = open(path, O_RDONLY);
    char *hex;
    pl_code code = fd < 0 ? PL_ENOFILE : pl_digest_fd(a, fd, &hex, d);

    if (!code)
        printf("%.3f\n", used_s(RUSAGE_SELF));
    return code != PL_OK;
}

/* Processor time of a command and all that it starts. */
static int time_command(int times, char **command)
{
    double best = HUGE_VAL;

    for (int i = 0; i < times; i++) {
        double before = used_s(RUSAGE_CHILDREN);
        pid_t pid = fork();
        int status = 1;

        if (pid == 0) {
            int nowhere = open("/dev/null", O_WRONLY);

            dup2(nowhere, 1);
            execvp(command[0], command);
            _exit(127);
        }
        if (pid < 0 || waitpid(pid, &status, 0) != pid || status != 0)
            return 1;
        best = fmin(best, used_s(RUSAGE_CHILDREN) - before);
    }
    printf("%.3f %.1f\n", best, largest_mib());
    return 0;
}

int main(int argc, char **argv)
{
    pl_arena *a;
    pl_diags d;
    int rc = 2;

    if (argc > 1 && !strcmp(argv[1], PL_RIG_CHILD_ARG))
        return pl_rigs_child_main(argc, argv);
    if (argc > 3 && !strcmp(argv[1], "time"))
        return time_command(atoi(argv[2]), argv + 3);
    gsl_set_error_handler_off();
    a = pl_arena_new(0);
    pl_diags_init(&d, a);
    if (argc == 4 && !strcmp(argv[1], "make"))
        rc = make(argv[2], atol(argv[3]));
    else if (argc == 3 && !strcmp(argv[1], "read"))
        rc = read_record(a, argv[2], &d);
    else if (argc == 3 && !strcmp(argv[1], "digest"))
        rc = digest(a, argv[2], &d);
    for (size_t i = 0; i < d.count; i++)
        fprintf(stderr, "%s\n", pl_diag_text(a, &d.items[i]));
    pl_arena_free(a);
    return rc;
}
