/* Limits and the filter of system calls (seccomp) around plugin code. The list
 * says what is allowed; all else ends the child. Behind it, where the kernel has it, stands
 * a second wall (Landlock). */
#include "rigs/fence.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <linux/landlock.h>
#include <seccomp.h>

#include "base/sanitized.h"
#include "rigs/wire.h"

#define CHILD_MEMORY ((rlim_t)512 << 20) /* address space; a plugin needs a few MiB */
#define CHILD_FILES 16

static volatile int tell_fd = -1;

int pl_fence_tie(int parent)
{
    if (prctl(PR_SET_PDEATHSIG, SIGKILL) != 0)
        return -1;
    (void)prctl(PR_SET_DUMPABLE, 0);
    return getppid() == parent ? 0 : -1;
}

/* Last words, async-signal-safe: one message, then the end. */
static void on_blocked(int signal, siginfo_t *info, void *context)
{
    uint32_t words[3] = { PL_MSG_BLOCKED, sizeof(uint32_t), (uint32_t)info->si_syscall };
    ssize_t n = write(tell_fd, words, sizeof words);

    (void)signal;
    (void)context;
    (void)n;
    _exit(1);
}

static void limits(double cpu_s)
{
    rlim_t cpu = (rlim_t)fmin(fmax(ceil(cpu_s), 1), 3600);

    (void)setrlimit(RLIMIT_CPU, &(struct rlimit){ cpu, cpu + 1 });
    (void)setrlimit(RLIMIT_CORE, &(struct rlimit){ 0, 0 });
    (void)setrlimit(RLIMIT_FSIZE, &(struct rlimit){ 0, 0 });
    (void)setrlimit(RLIMIT_NOFILE, &(struct rlimit){ CHILD_FILES, CHILD_FILES });
#ifndef PL_SANITIZED
    /* the shadow memory of a sanitizer is far larger; there its own limit holds */
    (void)setrlimit(RLIMIT_AS, &(struct rlimit){ CHILD_MEMORY, CHILD_MEMORY });
#endif
}

/* Needed by libc, the dynamic loader, libm and the host's own reader. */
static const char *const allowed[] = {
    "read",
    "pread64",
    "readv",
    "close",
    "fstat",
    "newfstatat",
    "stat",
    "lstat",
    "statx",
    "lseek",
    "access",
    "faccessat",
    "faccessat2",
    "readlink",
    "readlinkat",
    "getcwd",
    "brk",
    "mmap",
    "munmap",
    "mremap",
    "madvise",
    "mprotect",
    "futex",
    "rt_sigprocmask",
    "rt_sigreturn",
    "sigaltstack",
    "clock_gettime",
    "clock_getres",
    "gettimeofday",
    "time",
    "nanosleep",
    "clock_nanosleep",
    "sched_yield",
    "exit",
    "exit_group",
    "getrandom",
    "uname",
    "sysinfo",
    "getpid",
    "gettid",
    "getppid",
    "getuid",
    "geteuid",
    "getgid",
    "getegid",
    "getrlimit",
    "getrusage",
    "times",
    "rseq",
    "set_robust_list",
    "set_tid_address",
    "arch_prctl",
    "sched_getaffinity",
    "membarrier",
    "restart_syscall",
    "fadvise64",
    "poll",
    "ppoll",
};

/* Refused without ending the child: libc asks these on its way and can do without. */
static const char *const without[] = { "ioctl", "getdents64", "fcntl", "statfs", "fstatfs" };

static int allow_by_name(scmp_filter_ctx f)
{
    int rc = 0;

    for (size_t i = 0; !rc && i < sizeof allowed / sizeof *allowed; i++) {
        int nr = seccomp_syscall_resolve_name(allowed[i]);

        if (nr != __NR_SCMP_ERROR)
            rc = seccomp_rule_add(f, SCMP_ACT_ALLOW, nr, 0);
    }
    for (size_t i = 0; !rc && i < sizeof without / sizeof *without; i++) {
        int nr = seccomp_syscall_resolve_name(without[i]);

        if (nr != __NR_SCMP_ERROR)
            rc = seccomp_rule_add(f, SCMP_ACT_ERRNO(ENOTTY), nr, 0);
    }
    return rc;
}

/* Those that depend on an argument: open for reading, write to the answer and to
 * nowhere, signals to oneself (abort), one's own limits for reading. */
static int allow_by_argument(scmp_filter_ctx f, int answer_fd)
{
    const scmp_datum_t bits = O_WRONLY | O_RDWR | O_CREAT | O_TRUNC | O_APPEND;
    const int writes[] = { SCMP_SYS(write), SCMP_SYS(writev) };
    const int fds[] = { 1, 2, answer_fd };
    int rc;

    rc = seccomp_rule_add(f, SCMP_ACT_ALLOW, SCMP_SYS(openat), 1,
                          SCMP_A2(SCMP_CMP_MASKED_EQ, bits, 0));
    if (!rc)
        rc = seccomp_rule_add(f, SCMP_ACT_ALLOW, SCMP_SYS(open), 1,
                              SCMP_A1(SCMP_CMP_MASKED_EQ, bits, 0));
    for (size_t i = 0; !rc && i < 2; i++)
        for (size_t k = 0; !rc && k < 3; k++)
            rc = seccomp_rule_add(f, SCMP_ACT_ALLOW, writes[i], 1,
                                  SCMP_A0(SCMP_CMP_EQ, (scmp_datum_t)fds[k]));
    if (!rc)
        rc = seccomp_rule_add(f, SCMP_ACT_ALLOW, SCMP_SYS(tgkill), 1,
                              SCMP_A0(SCMP_CMP_EQ, (scmp_datum_t)getpid()));
    if (!rc)
        rc = seccomp_rule_add(f, SCMP_ACT_ALLOW, SCMP_SYS(prlimit64), 1, SCMP_A2(SCMP_CMP_EQ, 0));
    if (!rc) /* nobody takes over the handler that tells */
        rc = seccomp_rule_add(f, SCMP_ACT_ALLOW, SCMP_SYS(rt_sigaction), 1,
                              SCMP_A0(SCMP_CMP_NE, SIGSYS));
    if (!rc) /* libc then falls back to clone, which is told by its name */
        rc = seccomp_rule_add(f, SCMP_ACT_ERRNO(ENOSYS), SCMP_SYS(clone3), 0);
    return rc;
}

/* No file is made, written or removed by whatever way; and no process beyond this one is
 * looked into, which the filter cannot tell from opening any file: /proc/N/mem, /proc/N/fd.
 * A kernel without it leaves all to the filter. */
static void second_wall(void)
{
    const uint64_t fs = LANDLOCK_ACCESS_FS_WRITE_FILE | LANDLOCK_ACCESS_FS_REMOVE_DIR |
                        LANDLOCK_ACCESS_FS_REMOVE_FILE | LANDLOCK_ACCESS_FS_MAKE_CHAR |
                        LANDLOCK_ACCESS_FS_MAKE_DIR | LANDLOCK_ACCESS_FS_MAKE_REG |
                        LANDLOCK_ACCESS_FS_MAKE_SOCK | LANDLOCK_ACCESS_FS_MAKE_FIFO |
                        LANDLOCK_ACCESS_FS_MAKE_BLOCK | LANDLOCK_ACCESS_FS_MAKE_SYM;
    const struct landlock_ruleset_attr rules = { .handled_access_fs = fs };
    int fd = (int)syscall(SYS_landlock_create_ruleset, &rules, sizeof rules, 0);

    if (fd < 0)
        return;
    (void)syscall(SYS_landlock_restrict_self, fd, 0);
    close(fd);
}

int pl_fence_close(double cpu_s, int answer_fd)
{
    struct sigaction act = { .sa_sigaction = on_blocked, .sa_flags = SA_SIGINFO };
    scmp_filter_ctx f;
    int rc;

    tell_fd = answer_fd;
    if (sigaction(SIGSYS, &act, NULL) != 0 || prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) != 0)
        return errno;
    second_wall();
    f = seccomp_init(SCMP_ACT_TRAP);
    if (!f)
        return ENOMEM;
    /* by default a call through another door ends its thread alone */
    rc = seccomp_attr_set(f, SCMP_FLTATR_ACT_BADARCH, SCMP_ACT_KILL_PROCESS);
    if (!rc)
        rc = allow_by_name(f);
    if (!rc)
        rc = allow_by_argument(f, answer_fd);
    limits(cpu_s);
    if (!rc)
        rc = seccomp_load(f);
    seccomp_release(f);
    return rc < 0 ? -rc : rc;
}

static const struct {
    const char *call, *words;
} words_for[] = {
    { "clone", "start a process or thread" },
    { "fork", "start a process" },
    { "vfork", "start a process" },
    { "execve", "start a program" },
    { "execveat", "start a program" },
    { "socket", "open a socket" },
    { "socketpair", "open a socket" },
    { "connect", "open a socket" },
    { "kill", "send a signal" },
    { "tgkill", "send a signal" },
    { "tkill", "send a signal" },
    { "rt_sigqueueinfo", "send a signal" },
    { "rt_tgsigqueueinfo", "send a signal" },
    { "pidfd_open", "take hold of a process" },
    { "pidfd_send_signal", "send a signal" },
    { "pidfd_getfd", "look into a process" },
    { "process_vm_readv", "look into a process" },
    { "process_vm_writev", "look into a process" },
    { "memfd_create", "make a file" },
    { "io_uring_setup", "give work to the kernel" },
    { "prctl", "change what it is tied to" },
    { "setrlimit", "change its limits" },
    { "prlimit64", "change its limits" },
    { "dup", "change its descriptors" },
    { "dup2", "change its descriptors" },
    { "dup3", "change its descriptors" },
    { "open", "open a file for writing" },
    { "openat", "open a file for writing" },
    { "creat", "make a file" },
    { "write", "write to a file" },
    { "writev", "write to a file" },
    { "pwrite64", "write to a file" },
    { "unlink", "remove a file" },
    { "unlinkat", "remove a file" },
    { "rename", "rename a file" },
    { "renameat", "rename a file" },
    { "renameat2", "rename a file" },
    { "truncate", "cut a file" },
    { "ftruncate", "cut a file" },
    { "ptrace", "look into a process" },
    { "rt_sigaction", "take over a signal" },
};

const char *pl_fence_call(pl_arena *a, uint32_t number)
{
    char *name = number < 100000 ? seccomp_syscall_resolve_num_arch(SCMP_ARCH_NATIVE, (int)number)
                                 : NULL;
    const char *text = NULL;

    for (size_t i = 0; name && !text && i < sizeof words_for / sizeof *words_for; i++)
        if (!strcmp(name, words_for[i].call))
            text = pl_arena_printf(a, "%s: %s", words_for[i].words, name);
    if (!text)
        text = name ? pl_arena_printf(a, "system call %s", name)
                    : pl_arena_printf(a, "system call %u", number);
    free(name);
    return text;
}
