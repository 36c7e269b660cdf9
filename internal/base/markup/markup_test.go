package markup

import (
	"html"
	"strings"
	"testing"
)

// shown renders a piece.
func shown(t *testing.T, x Piece) string {
	t.Helper()
	var b strings.Builder
	if err := x.Render(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// What people typed comes back out of the markup as it was, and brings no markup of its own. HTML Living Standard, 13.2.5
// (tokenization): text ends at "<", a quoted value at its quote, and "&" may begin a reference in both.
func TestEscape(t *testing.T) {
	for _, typed := range []string{"plain", `<script>alert("x")</script>`, `" onclick="x`, "' x='", "&lt;", "a & b", "Käyrä ½"} {
		for name, x := range map[string]Piece{
			"words": func(p *Page) { p.Escaped(typed) }, "value": func(p *Page) { p.Attr(typed) }, "href": func(p *Page) { p.Href(typed) },
		} {
			got := shown(t, x)
			if strings.ContainsAny(got, `<>"'`) || html.UnescapeString(got) != typed {
				t.Errorf("%s %q is written %q", name, typed, got)
			}
		}
	}
}

// An address that names a scheme runs only what merely fetches or calls. HTML Living Standard, 7.4.2.3: a javascript: URL
// is run when it is followed; URL Standard, 4.4: leading blanks and inner tabs of a scheme are skipped, letters have no case.
func TestAddress(t *testing.T) {
	for _, c := range []struct{ address, want string }{
		{"/map", "/map"}, {"?day=2026-01-15T10:00", noAddress}, {"/day?at=10:00", "/day?at=10:00"}, {"https://a.example/b", "https://a.example/b"}, {"tel:112", "tel:112"},
		{"javascript:alert(1)", noAddress}, {"JaVaScRiPt:alert(1)", noAddress}, {" javascript:alert(1)", noAddress}, {"java\tscript:alert(1)", noAddress}, {"data:text/html,x", noAddress},
		{"/a?b&c", "/a?b&amp;c"},
	} {
		if got := shown(t, func(p *Page) { p.Address(c.address) }); got != c.want {
			t.Errorf("%q is written %q, want %q", c.address, got, c.want)
		}
	}
}

func TestClass(t *testing.T) {
	got := shown(t, func(p *Page) { p.Class("a", When("b", false), When("c", true), "", "a", `"d`) })
	if want := "a c &#34;d"; got != want {
		t.Errorf("classes are written %q, want %q", got, want)
	}
}

// A piece is put where it stands, Raw as it is.
func TestPut(t *testing.T) {
	inner := Piece(func(p *Page) { p.Text("<b>"); p.Escaped("<"); p.Text("</b>") })
	if got, want := shown(t, func(p *Page) { p.Text("<p>"); p.Put(inner); p.Put(Raw("<hr>")); p.Text("</p>") }), "<p><b>&lt;</b><hr></p>"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}
