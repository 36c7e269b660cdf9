// Package markup is what the generated page templates rest on: pieces of a page, and the writer that escapes what they show.
//
// Start with [Piece], which a template's function gives; [Page.Escaped] and [Page.Attr] write what people typed.
// It assumes that writing into memory does not fail, so that a template is a plain run of writes; a page is sent when it
// is whole. It leaves out what templ's own runtime has for scripts, spread attributes and HTTP: that one
// names the standard template engines and the whole of net/http, which the phone would carry.
package markup

import (
	"bytes"
	"html"
	"io"
	"slices"
	"strings"
)

// Piece is a part of a page, or a page: it writes itself into the page that it is put into.
type Piece func(*Page)

// Page is what is being written.
type Page struct{ b bytes.Buffer }

// Render writes the piece to w as a whole.
func (x Piece) Render(w io.Writer) error {
	var p Page
	x(&p)
	_, err := w.Write(p.b.Bytes())
	return err
}

// Raw is markup that the program made itself and nobody typed.
func Raw(s string) Piece { return func(p *Page) { p.Text(s) } }

// Put writes another piece at this place.
func (p *Page) Put(x Piece) { x(p) }

// Text writes markup of the template itself.
func (p *Page) Text(s string) { p.b.WriteString(s) }

// Escaped writes words between tags.
func (p *Page) Escaped(s string) { p.b.WriteString(html.EscapeString(s)) }

// Attr writes the value of an attribute that holds no address.
func (p *Page) Attr(s string) { p.b.WriteString(html.EscapeString(s)) }

// Href writes an address that the program made.
func (p *Page) Href(s string) { p.b.WriteString(html.EscapeString(s)) }

// noAddress stands in place of an address that a browser might run as a script.
const noAddress = "about:invalid"

// Address writes an address that may have come from elsewhere: one that names a scheme other than those that merely
// fetch or call is left out.
func (p *Page) Address(s string) {
	if scheme, _, found := strings.Cut(s, ":"); found && !strings.Contains(scheme, "/") {
		switch strings.ToLower(scheme) {
		case "http", "https", "mailto", "tel":
		default:
			s = noAddress
		}
	}
	p.Attr(s)
}

// Class writes names of classes, each once and without those that are empty.
func (p *Page) Class(names ...string) {
	gap := ""
	for i, n := range names {
		if n != "" && !slices.Contains(names[:i], n) {
			p.Text(gap)
			p.Attr(n)
			gap = " "
		}
	}
}

// When gives a class's name when it holds, else nothing.
func When(name string, holds bool) string {
	if holds {
		return name
	}
	return ""
}
