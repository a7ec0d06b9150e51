/* Loaded before the C library (LD_PRELOAD): makes a chosen call of one process fail or stand still,
 * as a disk does that is full, broken or asleep. What is to happen comes from the environment, and
 * is taken out of it, so that programs started by that process are left in peace.
 *
 *   SHIM_FAIL=op:n        the n-th call of op (from 1) fails: ENOMEM for malloc, else EIO or, for
 *                         what writes, ENOSPC
 *   SHIM_FAIL=op:n:short  the n-th write takes half of what it is given
 *   SHIM_FAIL=op:n:stall  the n-th call returns after half a second
 *   SHIM_FAIL=op:n:on     every call from the n-th on fails, until the file SHIM_GATE is there
 *   SHIM_HOLD=DIR         whatever touches a file below DIR waits until the file SHIM_GATE is there
 *   SHIM_COUNT=FILE       at the end, how often each op was called
 *   SHIM_TRACE=FILE       a line for each call that touches a file, made by the first thread once
 *                         it has called poll: none is wanted there
 * Only what the program itself calls is seen, not what the C library does within (stdio's files are
 * seen by fopen). */
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/types.h>
#include <time.h>
#include <unistd.h>

enum op {
    OP_MALLOC,
    OP_OPEN,
    OP_WRITE,
    OP_FSYNC,
    OP_RENAME,
    OP_CLOSE,
    OP_MKDIR,
    OP_SOCKET,
    OP_POLL,
    OP_UNLINK,
    OP_COUNT
};
static const char *const names[OP_COUNT] = {"malloc", "open",  "write",  "fsync", "rename",
                                            "close",  "mkdir", "socket", "poll",  "unlink"};

static _Atomic long counts[OP_COUNT];
static enum op fail_op = OP_COUNT;
static long fail_n;
static char fail_how[16];
static char hold_dir[256], gate[256], count_file[256], trace_file[256];
static pid_t only; /* 0: not begun */
static _Atomic bool polled;

static void take(const char *variable, char *dst, size_t cap)
{
    const char *value = getenv(variable);
    if (value)
        snprintf(dst, cap, "%s", value);
    unsetenv(variable);
}

static void nap_ms(long ms)
{
    struct timespec t = {ms / 1000, ms % 1000 * 1000000};
    syscall(SYS_nanosleep, &t, NULL);
}

static bool gate_is_open(void)
{
    return gate[0] && syscall(SYS_faccessat, AT_FDCWD, gate, F_OK) == 0;
}

__attribute__((constructor)) static void begin(void)
{
    char fail[64] = "", op[16] = "";
    take("SHIM_FAIL", fail, sizeof fail);
    take("SHIM_HOLD", hold_dir, sizeof hold_dir);
    take("SHIM_GATE", gate, sizeof gate);
    take("SHIM_COUNT", count_file, sizeof count_file);
    take("SHIM_TRACE", trace_file, sizeof trace_file);
    unsetenv("LD_PRELOAD");
    if (sscanf(fail, "%15[a-z]:%ld:%15s", op, &fail_n, fail_how) >= 2)
        for (int i = 0; i < OP_COUNT; i++)
            if (strcmp(op, names[i]) == 0)
                fail_op = (enum op)i;
    only = getpid();
}

__attribute__((destructor)) static void end(void)
{
    if (!count_file[0] || getpid() != only)
        return;
    char text[400];
    int n = 0;
    for (int i = 0; i < OP_COUNT; i++)
        n += snprintf(text + n, sizeof text - (size_t)n, "%s %ld\n", names[i], counts[i]);
    int fd = (int)syscall(SYS_openat, AT_FDCWD, count_file, O_WRONLY | O_CREAT | O_TRUNC, 0644);
    (void)!syscall(SYS_write, fd, text, (size_t)n);
    syscall(SYS_close, fd);
}

/* True: this call is to fail. */
static bool strikes(enum op op)
{
    if (!only || (pid_t)syscall(SYS_getpid) != only)
        return false;
    long n = atomic_fetch_add(&counts[op], 1) + 1;
    if (op != fail_op || n < fail_n)
        return false;
    if (strcmp(fail_how, "on") == 0)
        return !gate_is_open();
    if (n > fail_n)
        return false;
    if (strcmp(fail_how, "stall") == 0)
        nap_ms(500);
    return fail_how[0] == '\0' || strcmp(fail_how, "short") == 0;
}

static void trace(const char *what, const char *path)
{
    char line[400];
    if (!trace_file[0] || !polled || (pid_t)syscall(SYS_gettid) != only)
        return;
    int n = snprintf(line, sizeof line, "%s %s\n", what, path);
    int fd = (int)syscall(SYS_openat, AT_FDCWD, trace_file, O_WRONLY | O_CREAT | O_APPEND, 0644);
    (void)!syscall(SYS_write, fd, line, (size_t)n);
    syscall(SYS_close, fd);
}

static void path_of(int fd, char *dst, size_t cap)
{
    char link[40];
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t n = syscall(SYS_readlinkat, AT_FDCWD, link, dst, cap - 1);
    dst[n > 0 ? n : 0] = '\0';
}

/* What is done to a path: told, and held where it lies below the directory. */
static void touch(const char *what, int dir_fd, const char *path)
{
    char whole[600], dir[300] = "";
    if (!hold_dir[0] && !trace_file[0])
        return;
    if (path[0] != '/' && dir_fd != AT_FDCWD)
        path_of(dir_fd, dir, sizeof dir);
    snprintf(whole, sizeof whole, "%s%s%s", dir, dir[0] ? "/" : "", path);
    trace(what, whole);
    if (!hold_dir[0] || strncmp(whole, hold_dir, strlen(hold_dir)) != 0)
        return;
    while (!gate_is_open())
        nap_ms(5);
}

/* The same for a descriptor: a regular file or a directory, nothing else is on a disk. */
static void touch_fd(const char *what, int fd)
{
    char path[300];
    struct stat st;
    if ((!hold_dir[0] && !trace_file[0]) || fstat(fd, &st) != 0 ||
        (!S_ISREG(st.st_mode) && !S_ISDIR(st.st_mode)))
        return;
    path_of(fd, path, sizeof path);
    touch(what, AT_FDCWD, path);
}

/* ---- the calls ---- */

void *malloc(size_t size)
{
    extern void *__libc_malloc(size_t);
    if (strikes(OP_MALLOC)) {
        errno = ENOMEM;
        return NULL;
    }
    return __libc_malloc(size);
}

void *calloc(size_t n, size_t size)
{
    extern void *__libc_calloc(size_t, size_t);
    if (strikes(OP_MALLOC)) {
        errno = ENOMEM;
        return NULL;
    }
    return __libc_calloc(n, size);
}

void *realloc(void *p, size_t size)
{
    extern void *__libc_realloc(void *, size_t);
    if (strikes(OP_MALLOC)) {
        errno = ENOMEM;
        return NULL;
    }
    return __libc_realloc(p, size);
}

static int open_at(int dir_fd, const char *path, int flags, mode_t mode)
{
    touch("open", dir_fd, path);
    if (strikes(OP_OPEN)) {
        errno = EIO;
        return -1;
    }
    return (int)syscall(SYS_openat, dir_fd, path, flags, mode);
}

static mode_t mode_of(int flags, va_list *list)
{
    return flags & (O_CREAT | __O_TMPFILE) ? va_arg(*list, mode_t) : 0;
}

int open(const char *path, int flags, ...)
{
    va_list list;
    va_start(list, flags);
    mode_t mode = mode_of(flags, &list);
    va_end(list);
    return open_at(AT_FDCWD, path, flags, mode);
}

int openat(int fd, const char *path, int flags, ...)
{
    va_list list;
    va_start(list, flags);
    mode_t mode = mode_of(flags, &list);
    va_end(list);
    return open_at(fd, path, flags, mode);
}

FILE *fopen(const char *path, const char *mode)
{
    touch("fopen", AT_FDCWD, path);
    if (strikes(OP_OPEN)) {
        errno = EIO;
        return NULL;
    }
    FILE *(*real)(const char *, const char *);
    void *found = dlsym(RTLD_NEXT, "fopen");
    memcpy(&real, &found, sizeof real);
    return real(path, mode);
}

/* An eventfd. The kernel's write to one fails only where the program errs (eventfd(2): a value of
 * another size, or ULLONG_MAX) or where 2^64 - 2 wakes wait unread; no disk and no peer stands
 * behind it. A watch that could not write there would wait for ever at its end: for the thread that
 * reads the bus, which was never told to stop. */
static bool is_anonymous(int fd)
{
    struct stat st;
    return fstat(fd, &st) == 0 && (st.st_mode & S_IFMT) == 0;
}

ssize_t write(int fd, const void *data, size_t len)
{
    touch_fd("write", fd);
    if (!is_anonymous(fd) && strikes(OP_WRITE)) {
        if (strcmp(fail_how, "short") == 0)
            return syscall(SYS_write, fd, data, (len + 1) / 2);
        errno = ENOSPC;
        return -1;
    }
    return syscall(SYS_write, fd, data, len);
}

int fsync(int fd)
{
    touch_fd("fsync", fd);
    if (strikes(OP_FSYNC)) {
        errno = EIO;
        return -1;
    }
    return (int)syscall(SYS_fsync, fd);
}

int fdatasync(int fd)
{
    touch_fd("fdatasync", fd);
    if (strikes(OP_FSYNC)) {
        errno = EIO;
        return -1;
    }
    return (int)syscall(SYS_fdatasync, fd);
}

int rename(const char *from, const char *to)
{
    touch("rename", AT_FDCWD, from);
    if (strikes(OP_RENAME)) {
        errno = ENOSPC;
        return -1;
    }
    return (int)syscall(SYS_renameat2, AT_FDCWD, from, AT_FDCWD, to, 0);
}

int renameat(int from_fd, const char *from, int to_fd, const char *to)
{
    touch("renameat", from_fd, from);
    if (strikes(OP_RENAME)) {
        errno = ENOSPC;
        return -1;
    }
    return (int)syscall(SYS_renameat2, from_fd, from, to_fd, to, 0);
}

/* It fails and has closed all the same, as Linux does. */
int close(int fd)
{
    touch_fd("close", fd);
    int result = (int)syscall(SYS_close, fd);
    if (strikes(OP_CLOSE)) {
        errno = EIO;
        return -1;
    }
    return result;
}

int mkdir(const char *path, mode_t mode)
{
    touch("mkdir", AT_FDCWD, path);
    if (strikes(OP_MKDIR)) {
        errno = ENOSPC;
        return -1;
    }
    return (int)syscall(SYS_mkdirat, AT_FDCWD, path, mode);
}

int mkdirat(int fd, const char *path, mode_t mode)
{
    touch("mkdirat", fd, path);
    if (strikes(OP_MKDIR)) {
        errno = ENOSPC;
        return -1;
    }
    return (int)syscall(SYS_mkdirat, fd, path, mode);
}

int unlink(const char *path)
{
    touch("unlink", AT_FDCWD, path);
    if (strikes(OP_UNLINK)) {
        errno = EIO;
        return -1;
    }
    return (int)syscall(SYS_unlinkat, AT_FDCWD, path, 0);
}

int unlinkat(int fd, const char *path, int flags)
{
    touch("unlinkat", fd, path);
    if (strikes(OP_UNLINK)) {
        errno = EIO;
        return -1;
    }
    return (int)syscall(SYS_unlinkat, fd, path, flags);
}

int socket(int domain, int type, int protocol)
{
    if (strikes(OP_SOCKET)) {
        errno = ENFILE;
        return -1;
    }
    return (int)syscall(SYS_socket, domain, type, protocol);
}

int poll(struct pollfd *p, nfds_t n, int ms)
{
    if ((pid_t)syscall(SYS_gettid) == only)
        polled = true;
    if (strikes(OP_POLL)) {
        errno = EINTR;
        return -1;
    }
    struct timespec t = {ms / 1000, ms % 1000 * 1000000L};
    return (int)syscall(SYS_ppoll, p, n, ms < 0 ? NULL : &t, NULL, 0);
}
