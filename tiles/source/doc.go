// Package source knows where base map tiles may come from: the sources an
// operator states in sources.toml, the terms each of them came with, and the
// address of a tile.
//
// Nothing is packed without stated terms: [Source.Refusal] says why a source
// may not be used and what to do. Some hosts are refused whatever the file
// says, because their published policy forbids offline use; see
// [ForbiddenHost].
//
// A key stays in the environment. It is put into an address at the moment of
// asking and is taken out of every text that leaves with [Source.Redact].
//
// The library go-toml/v2 is at home here (sources.toml) and in package pack
// (job.toml).
package source
