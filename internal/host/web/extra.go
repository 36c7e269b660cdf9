package web

import (
	"net/http"
	"slices"
	"strconv"
	"strings"

	"icehand/internal/base/markup"

	"icehand/internal/base/quantity"
)

// Extra is a page that one host brings and another leaves out: what it needs stays out of this package, which the phone
// carries. It is framed, and its faults are shown, like any other page.
type Extra struct {
	Pattern string // method and address, as http.ServeMux has them
	Word    string // its entry in the navigation of large screens; "" for none
	Answer  func(r *http.Request, v Visitor) (Answer, error)
}

// Visitor is what an extra page may know of the phone that asks.
type Visitor struct {
	Units quantity.System
}

// Answer is what an extra page has to show.
type Answer struct {
	Title   string
	Status  int // 0: 200
	Body    markup.Piece
	Refresh int    // seconds after which it is shown anew; 0 for a page that does not age
	Bare    bool   // a part of a page, without the frame, for a script that puts it in
	To      string // when not "", the browser is sent there instead
	File    *File  // when not nil, it is sent in place of a page
}

// File is something that an extra page sends as it is.
type File struct {
	Data   []byte
	Media  string
	Policy string // Content-Security-Policy of a page that stands alone; "": that of every page
}

// send sends a file. It is kept by nobody on the way, and found by no search.
func (f *File) send(w http.ResponseWriter) {
	head := w.Header()
	head.Set("Content-Type", f.Media)
	head.Set("Cache-Control", "no-store")
	head.Set("X-Robots-Tag", "noindex, nofollow")
	if f.Policy != "" {
		head.Set("Content-Security-Policy", f.Policy)
	}
	_, _ = w.Write(f.Data) // the browser has gone away: nobody to tell
}

// extra makes a page of this package out of one that a host brought.
func (h *handler) extra(x Extra) page {
	return func(w http.ResponseWriter, r *http.Request, v *visit) error {
		a, err := x.Answer(r, Visitor{Units: v.settings.Units})
		if a.Status == 0 {
			a.Status = http.StatusOK
		}
		switch {
		case err != nil:
			return err
		case a.To != "":
			return back(w, r, a.To)
		case a.File != nil:
			a.File.send(w)
			return nil
		case a.Bare:
			return h.write(w, r, a.Status, a.Body)
		}
		if a.Refresh > 0 {
			v.refresh = strconv.Itoa(a.Refresh)
		}
		return h.show(w, r, v, a.Status, a.Title, a.Body)
	}
}

// entries lists the pages in their fixed places, those of the host last.
func (h *handler) entries() []navItem {
	out := append([]navItem(nil), navigation...)
	if h.Phone {
		out = slices.DeleteFunc(out, func(n navItem) bool { return n.Path == "/import" })
	}
	for _, x := range h.Extras {
		if x.Word != "" {
			_, path, _ := strings.Cut(x.Pattern, " ")
			out = append(out, navItem{Word: x.Word, Path: path, Wide: true})
		}
	}
	return out
}
