/* Between a program and the C library (LD_PRELOAD): clocks that jump, disks that fail, a log of
 * every write to the session file, death in the middle of one. Only for tests, only for Linux.
 *
 * SHIM_CONTROL  file of four int64: nanoseconds added to the wall clock and to the clock that runs
 *               on in sleep; errno for writes and for syncs (0: none). Read at every call.
 * SHIM_MATCH    only files whose path contains this are touched.
 * SHIM_LOG      file that every operation on them is appended to (struct entry, path, data).
 * SHIM_KILL_AT  number of the write on them, from 1, that is cut in half by SIGKILL.
 */
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <pthread.h>
#include <signal.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/syscall.h>
#include <sys/time.h>
#include <sys/types.h>
#include <time.h>
#include <unistd.h>

struct entry {
    int64_t op, steady_ns, offset, path_len, data_len;
};

static int64_t *control;
static int log_fd = -1;
static long kill_at;
static long writes;
static const char *match;
static pthread_mutex_t turn = PTHREAD_MUTEX_INITIALIZER;

__attribute__((constructor)) static void begin(void)
{
    const char *path = getenv("SHIM_CONTROL");
    match = getenv("SHIM_MATCH");
    if (path != NULL) {
        int fd = (int)syscall(SYS_openat, AT_FDCWD, path, O_RDWR | O_CLOEXEC, 0);
        if (fd >= 0) {
            void *got = mmap(NULL, 4 * sizeof(int64_t), PROT_READ, MAP_SHARED, fd, 0);
            control = got == MAP_FAILED ? NULL : got;
            syscall(SYS_close, fd);
        }
    }
    if ((path = getenv("SHIM_LOG")) != NULL)
        log_fd = (int)syscall(SYS_openat, AT_FDCWD, path,
                              O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
    if ((path = getenv("SHIM_KILL_AT")) != NULL)
        kill_at = atol(path);
}

/* ---- clocks */

int clock_gettime(clockid_t id, struct timespec *out)
{
    if (syscall(SYS_clock_gettime, id, out) != 0)
        return -1;
    if (control == NULL)
        return 0;
    int64_t add = 0;
    if (id == CLOCK_REALTIME || id == CLOCK_REALTIME_COARSE)
        add = control[0];
    else if (id == CLOCK_BOOTTIME)
        add = control[1];
    int64_t ns = (int64_t)out->tv_sec * 1000000000 + out->tv_nsec + add;
    out->tv_sec = ns / 1000000000;
    out->tv_nsec = ns % 1000000000;
    return 0;
}

int gettimeofday(struct timeval *restrict out, void *restrict zone)
{
    struct timespec now;
    (void)zone;
    clock_gettime(CLOCK_REALTIME, &now);
    out->tv_sec = now.tv_sec;
    out->tv_usec = now.tv_nsec / 1000;
    return 0;
}

time_t time(time_t *out)
{
    struct timespec now;
    clock_gettime(CLOCK_REALTIME, &now);
    if (out != NULL)
        *out = now.tv_sec;
    return now.tv_sec;
}

/* ---- files */

static int ours(const char *path)
{
    return match != NULL && strstr(path, match) != NULL && strstr(path, "-shm") == NULL;
}

/* Return whether fd is a file to be touched, and its path. */
static int path_of(int fd, char *path)
{
    char link[64] = "/proc/self/fd/";
    char digits[16];
    int n = 0;
    if (match == NULL || fd < 0)
        return 0;
    for (int rest = fd; n == 0 || rest > 0; rest /= 10)
        digits[n++] = (char)('0' + rest % 10);
    size_t end = strlen(link);
    while (n > 0)
        link[end++] = digits[--n];
    link[end] = 0;
    ssize_t len = syscall(SYS_readlinkat, AT_FDCWD, link, path, PATH_MAX - 1);
    if (len < 0)
        return 0;
    path[len] = 0;
    return ours(path);
}

static void note(char op, int64_t offset, const char *path, const void *data, size_t size)
{
    if (log_fd < 0)
        return;
    struct timespec now;
    syscall(SYS_clock_gettime, CLOCK_MONOTONIC, &now);
    struct entry head = {op, (int64_t)now.tv_sec * 1000000000 + now.tv_nsec, offset,
                         (int64_t)strlen(path), (int64_t)size};
    pthread_mutex_lock(&turn);
    syscall(SYS_write, log_fd, &head, sizeof head);
    syscall(SYS_write, log_fd, path, strlen(path));
    if (size > 0)
        syscall(SYS_write, log_fd, data, size);
    pthread_mutex_unlock(&turn);
}

static ssize_t put(int fd, const void *data, size_t size, off_t offset)
{
    char path[PATH_MAX];
    if (!path_of(fd, path))
        return syscall(SYS_pwrite64, fd, data, size, offset);
    if (control != NULL && control[2] != 0) {
        errno = (int)control[2];
        return -1;
    }
    if (kill_at > 0 && __sync_add_and_fetch(&writes, 1) == kill_at) {
        syscall(SYS_pwrite64, fd, data, size / 2, offset);
        kill(getpid(), SIGKILL);
    }
    ssize_t done = syscall(SYS_pwrite64, fd, data, size, offset);
    if (done > 0)
        note('W', offset, path, data, (size_t)done);
    return done;
}

ssize_t pwrite(int fd, const void *data, size_t size, off_t offset)
{
    return put(fd, data, size, offset);
}

ssize_t pwrite64(int fd, const void *data, size_t size, off64_t offset)
{
    return put(fd, data, size, offset);
}

ssize_t write(int fd, const void *data, size_t size)
{
    char path[PATH_MAX];
    if (!path_of(fd, path))
        return syscall(SYS_write, fd, data, size);
    off_t offset = lseek(fd, 0, SEEK_CUR);
    ssize_t done = put(fd, data, size, offset);
    if (done > 0)
        lseek(fd, done, SEEK_CUR);
    return done;
}

static int cut(int fd, off_t size)
{
    char path[PATH_MAX];
    int done = (int)syscall(SYS_ftruncate, fd, size);
    if (done == 0 && path_of(fd, path))
        note('T', size, path, NULL, 0);
    return done;
}

int ftruncate(int fd, off_t size) { return cut(fd, size); }
int ftruncate64(int fd, off64_t size) { return cut(fd, size); }

static int sync_file(int fd, long call)
{
    char path[PATH_MAX];
    int known = path_of(fd, path);
    if (known && control != NULL && control[3] != 0) {
        errno = (int)control[3];
        return -1;
    }
    int done = (int)syscall(call, fd);
    if (done == 0 && known)
        note('S', 0, path, NULL, 0);
    return done;
}

int fsync(int fd) { return sync_file(fd, SYS_fsync); }
int fdatasync(int fd) { return sync_file(fd, SYS_fdatasync); }

/* Names: a file that appears, gets another name, goes. */

static int make(int folder, const char *path, int flags, mode_t mode)
{
    int watched = (flags & O_CREAT) != 0 && ours(path);
    int there = watched && faccessat(folder, path, F_OK, 0) == 0;
    int fd = (int)syscall(SYS_openat, folder, path, flags, mode);
    if (fd >= 0 && watched && !there) {
        char full[PATH_MAX];
        if (path_of(fd, full))
            note('C', 0, full, NULL, 0);
    }
    return fd;
}

#define MODE_OF(flags)                                                                            \
    mode_t mode = 0;                                                                               \
    if (((flags) & O_CREAT) != 0 || ((flags) & O_TMPFILE) == O_TMPFILE) {                          \
        __builtin_va_list more;                                                                    \
        __builtin_va_start(more, flags);                                                           \
        mode = (mode_t)__builtin_va_arg(more, int);                                                \
        __builtin_va_end(more);                                                                    \
    }

int open(const char *path, int flags, ...)
{
    MODE_OF(flags)
    return make(AT_FDCWD, path, flags, mode);
}

int open64(const char *path, int flags, ...)
{
    MODE_OF(flags)
    return make(AT_FDCWD, path, flags | O_LARGEFILE, mode);
}

int rename(const char *from, const char *to)
{
    int done = (int)syscall(SYS_renameat2, AT_FDCWD, from, AT_FDCWD, to, 0);
    if (done == 0 && (ours(from) || ours(to)))
        note('R', 0, from, to, strlen(to));
    return done;
}

int unlink(const char *path)
{
    int done = (int)syscall(SYS_unlinkat, AT_FDCWD, path, 0);
    if (done == 0 && ours(path))
        note('U', 0, path, NULL, 0);
    return done;
}
