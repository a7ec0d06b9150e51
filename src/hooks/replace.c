#include "hooks/replace.h"

#include "base/text.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

static bool write_all(int fd, const char *text, size_t len)
{
    while (len > 0) {
        ssize_t n = write(fd, text, len);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            return false;
        text += n;
        len -= (size_t)n;
    }
    return true;
}

static void sync_directory(const char *path)
{
    char dir[PATH_MAX];
    text_copy(dir, sizeof dir, path);
    char *slash = strrchr(dir, '/');
    if (slash == dir)
        slash[1] = '\0';
    else if (slash)
        *slash = '\0';
    else
        text_copy(dir, sizeof dir, ".");
    int fd = open(dir, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd < 0)
        return;
    fsync(fd);
    close(fd);
}

/* A new file beside it. What stands there, the rest of a write that was broken off or a pipe that
 * would hold us up for ever, is not opened but removed. */
static int create_beside(const char *path, const char *beside, mode_t mode, struct err *e)
{
    struct stat st;
    if (lstat(path, &st) == 0 && !S_ISREG(st.st_mode) && !S_ISLNK(st.st_mode)) {
        err_set(e, "cannot write '%s': it is there and is not a file", path);
        return -1;
    }
    if (unlink(beside) == 0 || errno == ENOENT) {
        int fd = open(beside, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, mode ? mode : 0644);
        if (fd >= 0 && mode)
            (void)!fchmod(fd, mode); /* a disk without modes has its own */
        if (fd >= 0)
            return fd;
    }
    err_set(e, "cannot write '%s': %s", path, strerror(errno));
    return -1;
}

bool replace_file(const char *path, const char *text, size_t len, mode_t mode, bool sync,
                  struct err *e)
{
    char beside[PATH_MAX];
    if (!text_format(beside, sizeof beside, "%s.new", path))
        return err_set(e, "the name '%.200s' is too long", path);
    int fd = create_beside(path, beside, mode, e);
    if (fd < 0)
        return false;
    bool good = write_all(fd, text, len) && (!sync || fsync(fd) == 0);
    int why = errno;
    if (close(fd) < 0 && good) {
        good = false;
        why = errno;
    }
    if (good && rename(beside, path) < 0) {
        good = false;
        why = errno;
    }
    if (!good) {
        unlink(beside);
        return err_set(e, "cannot write '%s': %s", path, strerror(why));
    }
    if (sync)
        sync_directory(path);
    return true;
}
