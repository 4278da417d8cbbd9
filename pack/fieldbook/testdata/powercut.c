// A disk that forgets: loaded before the C library (LD_PRELOAD), it keeps beside a folder
// what a power cut would leave of it at worst. A file is kept as it was at its latest
// fsync, the names in the folder as they were at the latest fsync of the folder; all else
// is lost. POWERCUT_DIR is the folder, POWERCUT_KEPT where is kept: "names" holds lines of a
// name and a number, the file of that number holds what is kept of its content.
#define _GNU_SOURCE
#include <dirent.h>
#include <dlfcn.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { FILES = 64, FDS = 4096 };

static struct { char name[256]; int id; int there; } files[FILES];
static int ids, fds[FDS]; // of an open file: its id; -1 = the folder; 0 = another
static char dir[1024], kept[1024];
static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static int (*real_open)(const char *, int, ...);
static int (*real_close)(int), (*real_unlink)(const char *), (*real_fsync)(int), (*real_fdatasync)(int);

static void die(const char *why) { perror(why); _exit(99); }

static const char *within(const char *path) {
	size_t n = strlen(dir);
	if (!n || strncmp(path, dir, n) || path[n] != '/' || strchr(path + n + 1, '/')) return NULL;
	return path + n + 1;
}

static void keep_content(int from, int id) {
	char path[1200], part[1200], block[65536];
	snprintf(path, sizeof path, "%s/%d", kept, id);
	snprintf(part, sizeof part, "%s/part", kept);
	int to = real_open(part, O_WRONLY | O_CREAT | O_TRUNC, 0600);
	if (to < 0) die(part);
	ssize_t n;
	for (off_t at = 0; (n = pread(from, block, sizeof block, at)) > 0; at += n)
		if (write(to, block, n) != n) die(part);
	real_close(to);
	if (rename(part, path)) die(path);
}

static void keep_names(void) {
	char path[1200], part[1200];
	snprintf(path, sizeof path, "%s/names", kept);
	snprintf(part, sizeof part, "%s/names.part", kept);
	FILE *f = fopen(part, "w");
	if (!f) die(part);
	for (int i = 0; i < FILES; i++)
		if (files[i].there) fprintf(f, "%s %d\n", files[i].name, files[i].id);
	fclose(f);
	if (rename(part, path)) die(path);
}

static int id_of(const char *name, int make) {
	int empty = -1;
	for (int i = 0; i < FILES; i++) {
		if (files[i].there && !strcmp(files[i].name, name)) return files[i].id;
		if (!files[i].there && empty < 0) empty = i;
	}
	if (!make) return 0;
	if (empty < 0) die("too many files");
	snprintf(files[empty].name, sizeof files[empty].name, "%s", name);
	files[empty].there = 1;
	return files[empty].id = ++ids;
}

__attribute__((constructor)) static void begin(void) {
	real_open = dlsym(RTLD_NEXT, "open");
	real_close = dlsym(RTLD_NEXT, "close");
	real_unlink = dlsym(RTLD_NEXT, "unlink");
	real_fsync = dlsym(RTLD_NEXT, "fsync");
	real_fdatasync = dlsym(RTLD_NEXT, "fdatasync");
	if (!getenv("POWERCUT_DIR") || !getenv("POWERCUT_KEPT")) return;
	snprintf(dir, sizeof dir, "%s", getenv("POWERCUT_DIR"));
	snprintf(kept, sizeof kept, "%s", getenv("POWERCUT_KEPT"));
	DIR *d = opendir(dir);
	if (!d) die(dir);
	for (struct dirent *e; (e = readdir(d));) { // what is there at the beginning is kept
		char path[2048];
		if (e->d_name[0] == '.') continue;
		snprintf(path, sizeof path, "%s/%s", dir, e->d_name);
		int fd = real_open(path, O_RDONLY);
		if (fd < 0) die(path);
		keep_content(fd, id_of(e->d_name, 1));
		real_close(fd);
	}
	closedir(d);
	keep_names();
}

static int opened(const char *path, int flags, int mode) {
	pthread_mutex_lock(&lock);
	int fd = real_open(path, flags, mode);
	if (fd >= 0 && fd < FDS) {
		const char *name = within(path);
		fds[fd] = *dir && !strcmp(path, dir) ? -1 : name ? id_of(name, 1) : 0;
	}
	pthread_mutex_unlock(&lock);
	return fd;
}

#define MODE(flags) \
	int mode = 0; \
	if (flags & O_CREAT) { va_list a; va_start(a, flags); mode = va_arg(a, int); va_end(a); }

int open(const char *path, int flags, ...) { MODE(flags) return opened(path, flags, mode); }
int open64(const char *path, int flags, ...) { MODE(flags) return opened(path, flags | O_LARGEFILE, mode); }

int close(int fd) {
	if (fd >= 0 && fd < FDS) fds[fd] = 0;
	return real_close(fd);
}

int unlink(const char *path) {
	pthread_mutex_lock(&lock);
	int gone = real_unlink(path);
	const char *name = within(path);
	for (int i = 0; !gone && name && i < FILES; i++)
		if (files[i].there && !strcmp(files[i].name, name)) files[i].there = 0;
	pthread_mutex_unlock(&lock);
	return gone;
}

static int synced(int fd, int (*real)(int)) {
	pthread_mutex_lock(&lock);
	int failed = real(fd);
	if (!failed && fd >= 0 && fd < FDS && fds[fd] > 0) keep_content(fd, fds[fd]);
	if (!failed && fd >= 0 && fd < FDS && fds[fd] < 0) keep_names();
	pthread_mutex_unlock(&lock);
	return failed;
}

int fsync(int fd) { return synced(fd, real_fsync); }
int fdatasync(int fd) { return synced(fd, real_fdatasync); }
