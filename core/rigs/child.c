/* The parent's side of a visit: spawn, time limit, collecting the answer,
 * telling how a child ended. What the answer means is for ask.c. */
#include "rigs/child.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
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

#include "rigs/fence.h"
#include "rigs/rigs.h"

static const char *self_path = "/proc/self/exe";
static double limit_s = PL_RIG_LIMIT_S;

void pl_rigs_self(const char *path)
{
    self_path = path ? path : "/proc/self/exe";
}

void pl_rigs_limit(double seconds)
{
    limit_s = seconds > 0 ? seconds : PL_RIG_LIMIT_S;
}

double pl_child_limit(void)
{
    return limit_s;
}

pl_code pl_child_blame(pl_diags *d, const pl_plugin_file *file, const char *did)
{
    return pl_fail(d, PL_EPLUGIN, file->path,
                   .found = pl_arena_printf(d->arena, "plugin \"%s\" %s", file->name, did),
                   .mend = "nothing of what it gave was taken; mend the plugin or take it out");
}

/* ---- starting ---- */

/* The request as a sealed file in memory: no pipe that fills up, no SIGPIPE
 * when the child dies early. */
static int request_fd(const pl_text *head, const pl_text *body)
{
    int fd = memfd_create("platen-work", MFD_CLOEXEC | MFD_ALLOW_SEALING);
    const pl_text *parts[2] = { head, body };

    if (fd < 0)
        return -1;
    for (int i = 0; i < 2; i++) {
        for (size_t done = 0; done < parts[i]->length;) {
            ssize_t n = write(fd, parts[i]->bytes + done, parts[i]->length - done);

            if (n < 0 && errno == EINTR)
                continue;
            if (n <= 0) {
                close(fd);
                return -1;
            }
            done += (size_t)n;
        }
    }
    (void)fcntl(fd, F_ADD_SEALS, F_SEAL_WRITE | F_SEAL_GROW | F_SEAL_SHRINK | F_SEAL_SEAL);
    (void)lseek(fd, 0, SEEK_SET);
    return fd;
}

/* Only what the child's own libraries need. Under sanitizers a crash must stay
 * a crash, and leaks of a plugin are nobody's business. */
static size_t child_env(char **env, size_t most)
{
    static char fixed[][160] = {
        "OMP_NUM_THREADS=1",
        "ASAN_OPTIONS=detect_leaks=0:allocator_may_return_null=1:handle_segv=0:handle_abort=0:"
        "handle_sigbus=0:handle_sigfpe=0:exitcode=86:hard_rss_limit_mb=1024",
        "UBSAN_OPTIONS=halt_on_error=1:exitcode=86",
    };
    static const char *const kept[] = { "UDUNITS2_XML_PATH=", "LD_LIBRARY_PATH=", "LC_ALL=" };
    size_t n = 0;

    for (size_t i = 0; i < sizeof fixed / sizeof *fixed; i++)
        env[n++] = fixed[i];
    for (char **e = environ; e && *e && n + 1 < most; e++)
        for (size_t k = 0; k < sizeof kept / sizeof *kept; k++)
            if (!strncmp(*e, kept[k], strlen(kept[k])))
                env[n++] = *e;
    env[n] = NULL;
    return n;
}

/* Sources lie high, so that none is overwritten before it is copied down. */
static int lift(int fd)
{
    return fcntl(fd, F_DUPFD_CLOEXEC, 64);
}

static int spawn(const int source[4], pid_t *pid)
{
    static const int target[4] = { PL_FD_WORK, PL_FD_ANSWER, PL_FD_PLUGIN, PL_FD_RECORD };
    char name[] = "platen", arg[] = PL_RIG_CHILD_ARG;
    char *argv[] = { name, arg, NULL }, *env[16];
    posix_spawn_file_actions_t files;
    posix_spawnattr_t attr;
    sigset_t none, all;
    int rc, high[4] = { -1, -1, -1, -1 };

    child_env(env, sizeof env / sizeof *env);
    posix_spawn_file_actions_init(&files);
    posix_spawnattr_init(&attr);
    sigemptyset(&none);
    sigfillset(&all);
    posix_spawnattr_setsigmask(&attr, &none);
    posix_spawnattr_setsigdefault(&attr, &all);
    /* a session of its own: /dev/tty is not there for it */
    posix_spawnattr_setflags(&attr,
                             POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF | POSIX_SPAWN_SETSID);
    for (int i = 0; i < 3; i++)
        posix_spawn_file_actions_addopen(&files, i, "/dev/null", i ? O_WRONLY : O_RDONLY, 0);
    for (int i = 0; i < 4; i++) {
        high[i] = source[i] >= 0 ? lift(source[i]) : -1;
        if (high[i] >= 0)
            posix_spawn_file_actions_adddup2(&files, high[i], target[i]);
    }
    posix_spawn_file_actions_addclosefrom_np(&files,
                                             high[3] >= 0 ? PL_FD_RECORD + 1 : PL_FD_PLUGIN + 1);
    rc = posix_spawn(pid, self_path, &files, &attr, argv, env);
    for (int i = 0; i < 4; i++)
        if (high[i] >= 0)
            close(high[i]);
    posix_spawnattr_destroy(&attr);
    posix_spawn_file_actions_destroy(&files);
    return rc;
}

/* ---- waiting ---- */

static double now_s(void)
{
    struct timespec t;

    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

typedef enum outcome { WHOLE, CLOSED, LATE, FLOOD, NO_MEMORY } outcome;

typedef struct inbox {
    unsigned char *bytes;
    size_t length, room;
    size_t framed; /* bytes of whole messages looked at */
    pl_stage stage;
    uint32_t blocked, no_fence;
    bool was_blocked, ended;
    uint32_t code;
    pl_cost cost;
} inbox;

/* Whole messages that have arrived: only stage, end and last words matter here. */
static void skim(inbox *in)
{
    while (!in->ended && in->length - in->framed >= 8) {
        pl_unpack u = { in->bytes + in->framed, in->bytes + in->length, false };
        uint32_t type = pl_unpack_u32(&u), n = pl_unpack_u32(&u);

        if (n > (size_t)(u.end - u.at))
            return;
        if (type == PL_MSG_STAGE) {
            uint32_t stage = pl_unpack_u32(&u);

            in->stage = stage < PL_NSTAGES ? (pl_stage)stage : in->stage;
        } else if (type == PL_MSG_BLOCKED) {
            in->blocked = pl_unpack_u32(&u);
            in->was_blocked = true;
        } else if (type == PL_MSG_NO_FENCE) {
            in->no_fence = pl_unpack_u32(&u);
        } else if (type == PL_MSG_COST) {
            in->cost.cpu_s = pl_unpack_f64(&u);
            in->cost.most_bytes = pl_unpack_f64(&u);
        } else if (type == PL_MSG_END) {
            in->code = pl_unpack_u32(&u);
            in->ended = true;
        }
        in->framed += 8 + (size_t)n;
    }
}

static bool make_room(inbox *in)
{
    size_t room = in->room ? in->room * 2 : 16384;
    unsigned char *more;

    if (in->length < in->room)
        return true;
    more = realloc(in->bytes, room);
    if (!more)
        return false;
    in->bytes = more;
    in->room = room;
    return true;
}

static outcome collect(int fd, double until, inbox *in)
{
    while (!in->ended) {
        struct pollfd p = { .fd = fd, .events = POLLIN };
        double left = until - now_s();
        int ready = left > 0 ? poll(&p, 1, (int)fmin(ceil(left * 1e3), 1e6)) : 0;
        ssize_t n;

        if (ready == 0)
            return LATE;
        if (ready < 0)
            continue;
        if (!make_room(in))
            return NO_MEMORY;
        n = read(fd, in->bytes + in->length, in->room - in->length);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            return CLOSED;
        in->length += (size_t)n;
        if (in->length > PL_ANSWER_MOST)
            return FLOOD;
        skim(in);
    }
    return WHOLE;
}

/* A child that has said all gets a moment to leave; any other is ended. */
static int reap(pid_t pid, bool gently)
{
    int status = 0;

    for (int i = 0; gently && i < 100; i++) {
        struct timespec ms = { 0, 1000000 };

        if (waitpid(pid, &status, WNOHANG) == pid)
            return status;
        nanosleep(&ms, NULL);
    }
    kill(pid, SIGKILL);
    while (waitpid(pid, &status, 0) < 0 && errno == EINTR)
        ;
    return status;
}

/* ---- telling ---- */

static const char *const doing[PL_NSTAGES] = {
    [PL_STAGE_START] = "before it was loaded",
    [PL_STAGE_LOAD] = "while it was loaded",
    [PL_STAGE_LOADED] = "after it was loaded",
    [PL_STAGE_SET_POINT] = "while it was asked for a set point",
    [PL_STAGE_BACK] = "while it was asked for a force",
    [PL_STAGE_READ] = "while it read a record",
    [PL_STAGE_CURVE] = "while its curve was asked",
    [PL_STAGE_ANSWER] = "after it had answered",
};

static const char *ended_how(pl_arena *a, const inbox *in, outcome o, int status, double limit)
{
    const char *when = doing[in->stage];

    if (in->was_blocked)
        return pl_arena_printf(a, "tried what no plugin may do (%s) %s",
                               pl_fence_call(a, in->blocked), when);
    if (o == LATE)
        return pl_arena_printf(a, "did not finish within %.3g s %s", limit, when);
    if (o == FLOOD)
        return pl_arena_printf(a, "sent more than %zu MiB %s", PL_ANSWER_MOST >> 20, when);
    if (WIFSIGNALED(status) && WTERMSIG(status) == SIGSYS)
        return pl_arena_printf(a, "tried what no plugin may do %s", when);
    if (WIFSIGNALED(status) && WTERMSIG(status) == SIGXCPU)
        return pl_arena_printf(a, "used up its processor time %s", when);
    if (WIFSIGNALED(status))
        return pl_arena_printf(a, "crashed (signal %d, %s) %s", WTERMSIG(status),
                               strsignal(WTERMSIG(status)), when);
    if (WIFEXITED(status) && WEXITSTATUS(status) == 86)
        return pl_arena_printf(a, "was stopped by a sanitizer %s", when);
    return pl_arena_printf(a, "ended by itself (exit %d) %s", WEXITSTATUS(status), when);
}

static pl_code conclude(pl_arena *a, inbox *in, outcome o, int status, double limit, pl_answer *out,
                        pl_diags *d)
{
    unsigned char *kept;

    if (o == NO_MEMORY)
        return pl_nomem(d);
    if (in->no_fence)
        return pl_fail(d, PL_EPLUGIN, out->file->path,
                       .found = pl_arena_printf(a,
                                                "plugin \"%s\" is not loaded: this system "
                                                "refuses the filter of system calls (%s)",
                                                out->file->name, strerror((int)in->no_fence)),
                       .mend = "a kernel with seccomp is needed");
    if (o != WHOLE)
        return pl_child_blame(d, out->file, ended_how(a, in, o, status, limit));
    kept = pl_arena_get(a, in->framed, 1);
    if (!kept)
        return pl_nomem(d);
    memcpy(kept, in->bytes, in->framed);
    out->rest = (pl_unpack){ kept, kept + in->framed, false };
    out->code = in->code < PL_NCODES ? (pl_code)in->code : PL_EPLUGIN;
    out->cost = in->cost;
    return PL_OK;
}

pl_code pl_child_visit(pl_arena *a, const pl_plugin_file *file, pl_work work,
                       const pl_text *request, int record, double limit, pl_answer *out,
                       pl_diags *d)
{
    int work_fd, answer[2] = { -1, -1 }, rc;
    pl_text head;
    inbox in = { .cost = { NAN, NAN } };
    pid_t pid = -1;
    outcome o;
    pl_code code;

    *out = (pl_answer){ .file = file };
    pl_text_init(&head, a);
    pl_pack_u32(&head, PL_WIRE_MAGIC);
    pl_pack_u32(&head, (uint32_t)getpid());
    pl_pack_u32(&head, (uint32_t)work);
    pl_pack_f64(&head, limit);
    pl_pack_text(&head, file->name);
    pl_pack_text(&head, file->path);
    if (head.failed || request->failed)
        return pl_nomem(d);
    work_fd = request_fd(&head, request);
    if (work_fd < 0 || pipe2(answer, O_CLOEXEC) != 0) {
        rc = errno;
    } else {
        rc = spawn((const int[4]){ work_fd, answer[1], file->fd, record }, &pid);
        close(answer[1]);
    }
    if (work_fd >= 0)
        close(work_fd);
    if (rc != 0 || pid < 0) {
        if (answer[0] >= 0)
            close(answer[0]);
        return pl_fail(d, PL_EWRITE, file->path,
                       .found = pl_arena_printf(a,
                                                "no child process can be started for plugin "
                                                "\"%s\": %s",
                                                file->name, strerror(rc)));
    }
    o = collect(answer[0], now_s() + limit, &in);
    rc = reap(pid, o == WHOLE || o == CLOSED);
    close(answer[0]);
    code = conclude(a, &in, o, rc, limit, out, d);
    free(in.bytes);
    return code;
}

/* ---- reading ---- */

/* A child reads and reckons: it has no book, writes nothing, and was not typed in. */
static bool in_its_power(pl_code code)
{
    return code != PL_EUSAGE && code != PL_EBOOK && code != PL_EWRITE;
}

/* What is wrong with a finding that came from a child; NULL: nothing. */
static const char *lie_of(const pl_answer *answer, const pl_unpack *u, const pl_diag *f)
{
    if (u->bad)
        return "sent a finding that cannot be read";
    if (f->severity == PL_REFUSED && !in_its_power(f->code))
        return "sent a finding about what a child does not do";
    if (f->code == PL_EPLUGIN && (!f->where || strcmp(f->where, answer->file->path) != 0))
        return "sent a finding about another plugin";
    return NULL;
}

static void take_finding(pl_arena *a, pl_answer *answer, pl_unpack *u, pl_diags *d)
{
    uint32_t code = pl_unpack_u32(u), severity = pl_unpack_u32(u);
    pl_diag f = { .code = code < PL_NCODES ? (pl_code)code : PL_EPLUGIN,
                  .severity = severity < PL_NSEVERITIES ? (pl_severity)severity : PL_REFUSED };
    const char *lie;

    f.where = pl_unpack_text(a, u);
    f.pointer = pl_unpack_text(a, u);
    f.found = pl_unpack_text(a, u);
    f.expected = pl_unpack_text(a, u);
    f.mend = pl_unpack_text(a, u);
    if (f.severity == PL_REFUSED && f.code == PL_OK)
        f.code = PL_EPLUGIN;
    lie = lie_of(answer, u, &f);
    if (lie) { /* said once: nothing more is taken */
        (void)pl_child_blame(d, answer->file, lie);
        answer->rest.at = answer->rest.end;
        return;
    }
    (void)pl_diags_add(d, f);
}

bool pl_answer_next(pl_arena *a, pl_answer *answer, pl_message *type, pl_unpack *payload,
                    pl_diags *d)
{
    while (answer->rest.at < answer->rest.end) {
        uint32_t t = pl_unpack_u32(&answer->rest), n = pl_unpack_u32(&answer->rest);

        if (answer->rest.bad || n > (size_t)(answer->rest.end - answer->rest.at))
            return false;
        *payload = (pl_unpack){ answer->rest.at, answer->rest.at + n, false };
        answer->rest.at += n;
        if (t == PL_MSG_FINDING)
            take_finding(a, answer, payload, d);
        else if (t != PL_MSG_STAGE && t != PL_MSG_COST && t != PL_MSG_END) {
            *type = t < PL_NMESSAGES ? (pl_message)t : PL_NMESSAGES;
            return true;
        }
    }
    return false;
}

pl_code pl_answer_end(const pl_answer *answer, size_t before, pl_diags *d)
{
    pl_code code = pl_diags_code(d, before);

    if (code || answer->code == PL_OK)
        return code;
    return pl_child_blame(d, answer->file,
                          answer->code == PL_ENOMEM ? "left no memory for the answer"
                                                    : "failed and did not say why");
}
