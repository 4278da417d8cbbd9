// Package brief writes a pack as paper: a PDF to print and a page for a browser
// with the same content. An overview and detail sheets at a true stated scale
// show the base map and what is recorded; tables tell what is known, what is
// not, and how old and how sure it is.
package brief
