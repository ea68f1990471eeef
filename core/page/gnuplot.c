/* gnuplot as a child process: a script in, a drawing out, within a time. What
 * the drawing holds is judged elsewhere. */
#include "page/plot_inner.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#define OUTPUT_MOST ((size_t)32 << 20)

typedef struct run {
    pl_arena *a;
    pid_t child;
    int script, out, err; /* our ends; -1 when closed */
    pl_text output, talk;
    bool late, flooded;
} run;

static void close_fd(int *fd)
{
    if (*fd >= 0)
        close(*fd);
    *fd = -1;
}

/* The script in a file without a name: gnuplot may read it as slowly as it
 * likes, and nothing waits for a pipe to drain. */
static int script_file(const char *script)
{
    int fd = memfd_create("script", MFD_CLOEXEC);
    size_t left = strlen(script);

    while (fd >= 0 && left) {
        ssize_t n = write(fd, script, left);

        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0) {
            close_fd(&fd);
            break;
        }
        script += n;
        left -= (size_t)n;
    }
    if (fd >= 0)
        lseek(fd, 0, SEEK_SET);
    return fd;
}

/* Its own process group, so that a helper of gnuplot ends with it; default
 * signals; nothing of the caller's environment but the path, so that no setting
 * of the user's gnuplot changes a picture. 0 or an errno. */
static int start(run *r, int out, int err)
{
    const char *named = getenv("PLATEN_GNUPLOT"), *search = getenv("PATH");
    char program[] = "gnuplot", flag[] = "-d", locale[] = "LC_ALL=C.UTF-8", *path;
    char *argv[] = { program, flag, NULL };
    char *envp[] = { locale, NULL, NULL };
    posix_spawn_file_actions_t actions;
    posix_spawnattr_t attributes;
    sigset_t all;
    int error;

    path = pl_arena_printf(r->a, "PATH=%s", search ? search : "/usr/bin:/bin");
    if (!path || posix_spawn_file_actions_init(&actions))
        return ENOMEM;
    if (posix_spawnattr_init(&attributes)) {
        posix_spawn_file_actions_destroy(&actions);
        return ENOMEM;
    }
    envp[1] = path;
    sigfillset(&all);
    error = posix_spawn_file_actions_adddup2(&actions, r->script, 0);
    error = error ? error : posix_spawn_file_actions_adddup2(&actions, out, 1);
    error = error ? error : posix_spawn_file_actions_adddup2(&actions, err, 2);
    posix_spawnattr_setsigdefault(&attributes, &all);
    posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETPGROUP | POSIX_SPAWN_SETSIGDEF);
    if (!error)
        error = posix_spawnp(&r->child, named && named[0] ? named : program, &actions, &attributes,
                             argv, envp);
    posix_spawnattr_destroy(&attributes);
    posix_spawn_file_actions_destroy(&actions);
    return error;
}

static long now_ms(void)
{
    struct timespec t;

    clock_gettime(CLOCK_MONOTONIC, &t);
    return (long)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

/* One read from a ready end. */
static void drain(run *r, int *fd, pl_text *to)
{
    char buffer[16384];
    ssize_t n = read(*fd, buffer, sizeof buffer);

    if (n < 0 && errno == EINTR)
        return;
    if (n <= 0) {
        close_fd(fd);
        return;
    }
    if (to->length + (size_t)n > OUTPUT_MOST)
        r->flooded = true;
    else
        pl_text_bytes(to, buffer, (size_t)n);
}

static void listen_until(run *r, long deadline)
{
    while ((r->out >= 0 || r->err >= 0) && !r->flooded) {
        struct pollfd ends[] = { { r->out, POLLIN, 0 }, { r->err, POLLIN, 0 } };
        long left = deadline - now_ms();

        if (left <= 0 || (poll(ends, 2, (int)left) < 0 && errno != EINTR)) {
            r->late = true;
            return;
        }
        if (ends[0].revents)
            drain(r, &r->out, &r->output);
        if (ends[1].revents)
            drain(r, &r->err, &r->talk);
    }
}

/* Exit status of the child, -1 when a signal ended it. */
static int finish(run *r, long deadline)
{
    int status = 0;
    pid_t ended = 0;

    while (!r->late && !r->flooded && (ended = waitpid(r->child, &status, WNOHANG)) == 0) {
        r->late = now_ms() >= deadline;
        poll(NULL, 0, 1);
    }
    if (ended == 0) {
        kill(-r->child, SIGKILL);
        waitpid(r->child, &status, 0);
    }
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

static pl_code run_child(run *r, int limit_ms, const char **trouble, pl_diags *d)
{
    long deadline = now_ms() + limit_ms;
    int out[2], err[2], error;

    if (pipe2(out, O_CLOEXEC)) {
        *trouble = strerror(errno);
        return PL_OK;
    }
    if (pipe2(err, O_CLOEXEC)) {
        *trouble = strerror(errno);
        close(out[0]);
        close(out[1]);
        return PL_OK;
    }
    r->out = out[0];
    r->err = err[0];
    error = start(r, out[1], err[1]);
    close(out[1]);
    close(err[1]);
    if (error == ENOMEM)
        return pl_nomem(d);
    if (error) {
        *trouble = error == ENOENT ? "gnuplot is not installed" : strerror(error);
        return PL_OK;
    }
    listen_until(r, deadline);
    error = finish(r, deadline);
    if (r->late)
        *trouble = "gnuplot did not end in time";
    else if (r->flooded)
        *trouble = "gnuplot wrote more than 32 MiB";
    else if (error) {
        *trouble = pl_arena_printf(r->a, "gnuplot failed: %.200s",
                                   r->talk.length ? r->talk.bytes : "no reason given");
        if (!*trouble)
            return pl_nomem(d);
    } else if (!r->output.length)
        *trouble = "gnuplot drew nothing";
    return r->output.failed || r->talk.failed ? pl_nomem(d) : PL_OK;
}

pl_code pl_gnuplot_run(pl_arena *a, const char *script, int limit_ms, char **out, size_t *length,
                       pl_diags *d)
{
    run r = { .a = a, .script = script_file(script), .out = -1, .err = -1 };
    const char *trouble = NULL;
    pl_code code = PL_OK;

    *out = NULL;
    *length = 0;
    pl_text_init(&r.output, a);
    pl_text_init(&r.talk, a);
    if (r.script < 0)
        trouble = strerror(errno);
    else
        code = run_child(&r, limit_ms, &trouble, d);
    close_fd(&r.script);
    close_fd(&r.out);
    close_fd(&r.err);
    if (code)
        return code;
    if (trouble) {
        pl_advise(d, "picture", .found = trouble, .expected = "a picture drawn by gnuplot",
                  .mend = "install gnuplot (Debian: gnuplot-nox); all figures stand in the "
                          "tables too");
        return d->out_of_memory ? PL_ENOMEM : PL_OK;
    }
    *out = r.output.bytes;
    *length = r.output.length;
    return PL_OK;
}
