// Package job reads job.toml, the description of one site to prepare, and the
// files it names, and makes new job folders.
package job
