// Package source reads the sources of base map tiles that an operator states in
// sources.toml, with their terms, and gives the address of a tile.
//
// Nothing is packed without stated terms: [Source.Refusal] says why a source
// may not be used and what to do. Some hosts are refused whatever the file
// says, because their published policy forbids offline use; see
// [ForbiddenHost].
//
// A key stays in the environment. It is inserted into an address for a request
// and removed from every other text by [Source.Redact].
//
// The library go-toml/v2 is at home here (sources.toml) and in package pack
// (job.toml).
package source
