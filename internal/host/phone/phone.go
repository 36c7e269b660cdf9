// Package phone answers the pages of package web inside the phone's browser: a page script hands each link and form to
// this program, which runs in a worker of the page, and swaps the answer in. No network is needed.
//
// Start with [Run] (GOOS=js), which opens the record and answers until the worker ends; [Answer] is one request, and runs
// anywhere. It assumes that the page holds the one lock of this origin's record before it starts the worker. Files that
// pages fetch besides are the service worker's; bringing the record in step with the server's is package syncing's.
package phone

import (
	"bytes"
	"context"
	"net/http"
	"net/url"
	"strings"

	"github.com/google/uuid"
)

// Request is what the page asks: a link or a form.
type Request struct {
	Method, Path string // Path with its query
	Type         string // Content-Type of the form; "" for none
	Body         string
	Cookie       string // the page's cookies: theme, units, hand
}

// Response is the answer, after redirects within the pages were followed.
type Response struct {
	Status  int
	Path    string // where the answer stands, with its query
	Type    string
	Body    []byte
	Cookies []string // to be kept by the page
	Name    string   // file name of a download; "" for a page
}

// PairPath is where a phone asks its server for a token of its own.
const PairPath = "/phone/pair"

// ShelfPath is where a phone with a key finds what the server has worked out.
const ShelfPath = "/phone/shelf"

// Pairing is what a server gives a phone that pairs with it.
type Pairing struct {
	Token  string    `json:"token"`  // the phone's own; it goes nowhere but to this server
	Outfit uuid.UUID `json:"outfit"` // whose record the server holds
}

// isText tells whether an answer travels to the page as text.
func isText(media string) bool {
	return strings.HasPrefix(media, "text/") || strings.HasPrefix(media, "application/json") || strings.HasPrefix(media, "application/geo+json")
}

// mostHops bounds redirects: an act leads to one page.
const mostHops = 4

// Answer lets a handler answer a request of the page.
func Answer(ctx context.Context, h http.Handler, q Request) Response {
	out := Response{Path: q.Path}
	for range mostHops {
		w := &writer{head: http.Header{}}
		r, err := newRequest(ctx, q)
		if err != nil {
			return Response{Status: http.StatusBadRequest, Path: q.Path, Type: "text/plain; charset=utf-8", Body: []byte("The page asked for an address that cannot be read.")}
		}
		h.ServeHTTP(w, r)
		for _, c := range w.head.Values("Set-Cookie") {
			out.Cookies = append(out.Cookies, readable(c))
		}
		out.Status, out.Type, out.Body = w.status(), w.head.Get("Content-Type"), w.body.Bytes()
		_, name, _ := strings.Cut(w.head.Get("Content-Disposition"), "filename=")
		out.Name = strings.Trim(name, `"`)
		to := w.head.Get("Location")
		if out.Status != http.StatusSeeOther || to == "" {
			return out
		}
		q = Request{Method: http.MethodGet, Path: to, Cookie: withCookies(q.Cookie, w.head.Values("Set-Cookie"))}
		out.Path = to
	}
	return out
}

// newRequest makes the request that a browser would send to a server of its own.
func newRequest(ctx context.Context, q Request) (*http.Request, error) {
	u, err := url.ParseRequestURI(q.Path)
	if err != nil || u.Host != "" || !strings.HasPrefix(u.Path, "/") {
		return nil, http.ErrNoLocation
	}
	r, err := http.NewRequestWithContext(ctx, q.Method, u.RequestURI(), strings.NewReader(q.Body))
	if err != nil {
		return nil, err
	}
	r.Host, r.RequestURI = "phone", u.RequestURI()
	if q.Type != "" {
		r.Header.Set("Content-Type", q.Type)
	}
	if q.Cookie != "" {
		r.Header.Set("Cookie", q.Cookie)
	}
	return r, nil
}

// readable lets the page's script keep a cookie: on the phone it is the page that hands cookies over, and what it keeps
// are settings, no secrets.
func readable(cookie string) string {
	var parts []string
	for p := range strings.SplitSeq(cookie, ";") {
		if p = strings.TrimSpace(p); !strings.EqualFold(p, "HttpOnly") {
			parts = append(parts, p)
		}
	}
	return strings.Join(parts, "; ")
}

// withCookies adds cookies that were just set to those of a request.
func withCookies(have string, set []string) string {
	for _, c := range set {
		pair, _, _ := strings.Cut(c, ";")
		name, _, _ := strings.Cut(pair, "=")
		kept := []string{}
		for h := range strings.SplitSeq(have, ";") {
			if h = strings.TrimSpace(h); h != "" && !strings.HasPrefix(h, name+"=") {
				kept = append(kept, h)
			}
		}
		have = strings.Join(append(kept, pair), "; ")
	}
	return have
}

// writer keeps an answer in memory.
type writer struct {
	head http.Header
	code int
	body bytes.Buffer
}

func (w *writer) Header() http.Header { return w.head }

func (w *writer) WriteHeader(code int) {
	if w.code == 0 {
		w.code = code
	}
}

func (w *writer) Write(b []byte) (int, error) {
	w.WriteHeader(http.StatusOK)
	return w.body.Write(b)
}

func (w *writer) status() int {
	if w.code == 0 {
		return http.StatusOK
	}
	return w.code
}
