package serve

import (
	"cmp"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"strings"
	"time"

	"golang.org/x/crypto/acme"
	"golang.org/x/crypto/acme/autocert"

	"icehand/internal/base/fault"
	"icehand/internal/host/phone"
	"icehand/internal/keep/syncing"
)

// keyCookie is that of a browser which has shown its key. Browsers take the prefix only over HTTPS and from the host itself.
const keyCookie = "__Host-icehand"

// keyDays is how long a browser need not show its key again.
const keyDays = 180

// wrongKey is how long a wrong key waits for its answer: keys are long, and nobody is locked out.
const wrongKey = 700 * time.Millisecond

// doors tells this machine's own requests, which need no key, from those that come from outside under the server's name.
// Whatever was handed on by another program, or came encrypted, came from outside, whatever name it bears.
func (o Options) doors(inner http.Handler) http.Handler {
	own := sameMachine(inner)
	if o.Domain == "" {
		return own
	}
	outside := o.gate(inner)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		host := hostOf(r)
		handed := r.TLS != nil || r.Header.Get("Forwarded") != "" || r.Header.Get("X-Forwarded-For") != "" || r.Header.Get("X-Forwarded-Host") != ""
		switch {
		case isLoopback(host) && !handed:
			own.ServeHTTP(w, r)
		case strings.EqualFold(host, o.Domain):
			w.Header().Set("Strict-Transport-Security", "max-age=31536000")
			outside.ServeHTTP(w, r)
		default:
			http.Error(w, "These pages answer to their own name only.", http.StatusMisdirectedRequest)
		}
	})
}

func hostOf(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.Host)
	if err != nil {
		return r.Host
	}
	return host
}

func isLoopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// open tells whether a request needs no key here: what holds no record, and what asks for a key itself.
func openToAll(r *http.Request) bool {
	p := r.URL.Path
	if strings.HasPrefix(p, syncing.Path) || p == phone.ShelfPath || strings.HasPrefix(p, phone.ShelfPath+"/") {
		return true
	}
	return r.Method == http.MethodGet && (p == "/phone" || strings.HasPrefix(p, "/phone/") || strings.HasPrefix(p, "/static/") || p == "/favicon.ico")
}

// gate lets in who shows the key of a phone on file.
func (o Options) gate(inner http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch {
		case strings.HasPrefix(r.URL.Path, "/local/"):
			http.NotFound(w, r) // for commands of this machine
			return
		case r.URL.Path == "/enter":
			o.enter(w, r)
			return
		case openToAll(r):
			inner.ServeHTTP(w, r)
			return
		}
		if c, err := r.Cookie(keyCookie); err == nil && o.knows(r.Context(), c.Value) {
			inner.ServeHTTP(w, r)
			return
		}
		if r.Method == http.MethodGet {
			http.Redirect(w, r, "/enter", http.StatusSeeOther)
			return
		}
		http.Error(w, "Enter with a key first.", http.StatusUnauthorized)
	})
}

func (o Options) knows(ctx context.Context, key string) bool {
	if o.Keys == nil || key == "" {
		return false
	}
	_, err := o.Keys.Phone(ctx, key)
	return err == nil
}

// enterPage asks for a key. It stands alone: nothing of the record is read before a key was shown.
const enterPage = `<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><title>Enter · Icehand</title>
<link rel="stylesheet" href="%[1]sstyle/theme.css"><link rel="stylesheet" href="%[1]sstyle/parts.css"><link rel="stylesheet" href="%[1]sstyle/pages.css"></head>
<body><main id="main"><h1>Enter</h1>%[2]s<form method="post" action="/enter"><label for="key">Key of this phone or computer</label>
<input id="key" name="key" autocomplete="current-password" autocapitalize="none" spellcheck="false" required><p><button class="button" type="submit">Enter</button></p></form>
<p>On the machine that holds the record: <code>icehand phone add NAME</code> shows a new key, once.</p></main></body></html>`

// enter answers the page that asks for a key, and takes one.
func (o Options) enter(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Security-Policy", "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; object-src 'none'")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cache-Control", "no-store")
	said, status := "", http.StatusOK
	if r.Method == http.MethodPost {
		if http.NewCrossOriginProtection().Check(r) != nil {
			http.Error(w, "This key came from another page.", http.StatusForbidden)
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, mostForm)
		key := strings.TrimSpace(r.PostFormValue("key"))
		if o.knows(r.Context(), key) {
			http.SetCookie(w, &http.Cookie{Name: keyCookie, Value: key, Path: "/", MaxAge: keyDays * 24 * 3600, Secure: true, HttpOnly: true, SameSite: http.SameSiteLaxMode})
			http.Redirect(w, r, "/", http.StatusSeeOther)
			return
		}
		select {
		case <-time.After(wrongKey):
		case <-r.Context().Done():
		}
		said, status = `<p role="alert">That is no key of this server. Type it as it was shown.</p>`, http.StatusUnauthorized
	}
	h.Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	fmt.Fprintf(w, enterPage, o.static, said)
}

// public serves the domain over HTTPS with certificates of its own, until ctx ends: 443 for the pages, 80 for the
// certificate's check and to send browsers on.
func (o Options) public(ctx context.Context, h http.Handler) error {
	if err := os.MkdirAll(o.Certs, 0o700); err != nil {
		return fault.Wrap(err, fault.Unavailable, "Check that the data folder may be written.", "there is no folder for certificates")
	}
	m := &autocert.Manager{Prompt: autocert.AcceptTOS, Cache: autocert.DirCache(o.Certs), HostPolicy: autocert.HostWhitelist(o.Domain)}
	if o.Authority != "" {
		m.Client = &acme.Client{DirectoryURL: o.Authority, HTTPClient: o.asking}
	}
	listen := func(addr string) (net.Listener, error) {
		l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", addr)
		if err != nil {
			return nil, fault.Wrap(err, fault.Unavailable, "Let this program use ports 80 and 443, or put another program before it and add --behind-proxy.", "nothing can listen on port %s", addr[strings.LastIndexByte(addr, ':')+1:])
		}
		return l, nil
	}
	plain, err := listen(cmp.Or(o.ports[0], ":80"))
	if err != nil {
		return err
	}
	secure, err := listen(cmp.Or(o.ports[1], ":443"))
	if err != nil {
		return errors.Join(err, plain.Close())
	}
	c := m.TLSConfig()
	c.MinVersion = tls.VersionTLS12
	servers := []*http.Server{o.server(m.HTTPHandler(nil)), o.server(h)}
	go func() { _ = servers[0].Serve(plain) }()                      // they end when they are closed
	go func() { _ = servers[1].Serve(tls.NewListener(secure, c)) }() // as above
	context.AfterFunc(ctx, func() {
		for _, s := range servers {
			_ = s.Close() // nothing is pending: what was answered is durable
		}
	})
	return nil
}
