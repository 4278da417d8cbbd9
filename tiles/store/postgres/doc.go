// Package postgres keeps an office store in a PostgreSQL database, so that
// several computers share its tiles, its leases and its daily budgets.
//
// Everything lies in a schema of its own, named groundsheet, made by the first
// write. A shelf is a number; its images are held once each, named by their
// SHA-256, and belong to that shelf alone. Times are microseconds since 1970,
// UTC; 0 is no time.
//
// Writes to one shelf pass one after another (a lock of the transaction). No
// transaction stays open while a caller looks at records.
//
// A lease is a lock of a session: it goes with its connection. A pooler that
// hands sessions from client to client for each transaction breaks it; connect
// to the server itself.
//
// The library pgx is at home here.
package postgres
