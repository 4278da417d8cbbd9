// Package fieldbook is the field book: one file beside a pack that holds what a crew
// adds on site. It only grows: nothing in it is ever changed or removed.
//
// A mark is one thing the crew adds, such as a reading or a line. An entry is one append
// to the book: it writes a mark, again or for the first time, strikes it, or restores it.
// A receipt is the durable answer to an entry: when a phone has it, the entry is on the
// laptop's disk (the file and its folder were synced) and the phone may let go of it.
//
// # The file
//
// A SQLite file with the application ID 0x47534642 ("GSFB") and the layout in
// user_version. Any SQLite tool reads it; triggers refuse to change or to delete. The
// journal is a rollback journal that is gone after each commit, so between two commits
// the book is one file.
//
//	about(key, value)   book, made, name, number, program, seal: of the day it was made;
//	                    "later seal" once for each other version of the pack it was used with
//	entry(number, id, mark, action, text, received, session, role, before, hash)
//	photo(hash, type, bytes, proved)   proved: when all of it had come and was found to be a picture
//	piece(hash, at, data)              of a photo, from byte at on
//
// An entry's text is JSON as the phone sent it, kept to the byte; see [Parse]. Number,
// received (UTC), session and role are the server's own. The texts of an entry are
// chained:
//
//	hash = SHA-256 of before, number, id, mark, action, received, session, role, text
//
// each as a netstring: its length in bytes in decimal digits, a colon, the bytes, a comma.
// before is the hash of the entry before; of entry 1 it is the SHA-256 of the rows of
// about, but "later seal", in the order of their keys, key and value as netstrings. Hashes
// are written as 64 lower-case hex digits. The example of [Entry.Chain] shows the text that is
// hashed. The chain finds accidents, and every change of a book of which somebody keeps
// a later hash; whoever has no such hash may be given a book that was made anew.
//
// # Marks
//
// [Fold] makes marks of entries. Each entry names the entries of its mark that its writer
// saw as newest, so two phones that edit one mark without seeing each other leave two
// newest entries: both are kept, the later one by the writers' corrected clocks leads.
// Folding takes nothing from the order in which entries arrived, so books of several
// laptops fold together. testdata/fold.json has the cases; the page is held to it too.
package fieldbook
