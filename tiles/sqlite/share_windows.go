package sqlite

/*
#include <windows.h>

typedef struct sqlite3_vfs sqlite3_vfs;
typedef void (*system_call)(void);

// The beginning of SQLite's struct sqlite3_vfs, version 3 (https://www.sqlite.org/c3ref/vfs.html).
struct sqlite3_vfs {
	int version, size, longest;
	sqlite3_vfs *next;
	const char *name;
	void *data;
	void *calls[13];
	int (*set)(sqlite3_vfs *, const char *, system_call);
};
extern sqlite3_vfs *sqlite3_vfs_find(const char *);

static HANDLE WINAPI shared(LPCWSTR name, DWORD access, DWORD share, LPSECURITY_ATTRIBUTES s, DWORD make, DWORD flags, HANDLE like) {
	return CreateFileW(name, access, share | FILE_SHARE_DELETE, s, make, flags, like);
}

// share_files has SQLite open files so that they can be moved away while they are open.
static int share_files(void) {
	sqlite3_vfs *v = sqlite3_vfs_find("win32");
	return v == 0 || v->version < 3 ? 1 : v->set(v, "CreateFileW", (system_call)shared);
}
*/
import "C"

import (
	"fmt"
	"sync"
)

// Windows takes longer paths only in a form of their own, and SQLite those only by a name
// of its own.
const (
	longestPath = 240 // room for what SQLite adds to the name of a journal
	fileSystem  = "vfs=win32-longpath&"
)

// prepare is called before the first file is opened: a pack that is served can be
// exchanged only if its readers let it be moved.
var prepare = sync.OnceValue(func() error {
	if code := C.share_files(); code != 0 {
		return fmt.Errorf("SQLite cannot be told to share its files (%d)", code)
	}
	return nil
})
