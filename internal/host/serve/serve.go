// Package serve is the server host: it listens, sends the static files, sets the headers that keep a browser in bounds,
// and lets the pages of package web answer the rest.
//
// Start with [Run]; it serves until its context ends, then lets running requests finish.
// It assumes plain HTTP on a loopback address, for one guide on one machine: pages need no key there. Under a domain it
// answers over HTTPS, with certificates of its own or behind a program that encrypts, and lets in who shows the key of a
// phone on file. Any other address is refused in plain words. Commands of the same machine come in under /local/.
package serve

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"os"
	"slices"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/host/desk"
	"icehand/internal/host/importing"
	"icehand/internal/host/web"
	"icehand/internal/keep/syncing"
	assets "icehand/web"
)

// Options are what a program brings. Only Desk is needed.
type Options struct {
	Desk    *desk.Desk
	Addr    string                     // "": 127.0.0.1:0, a free port
	Units   quantity.System            // of a phone that has not chosen
	Version string                     // of the program, for the log
	Dev     string                     // folder to read static files from instead of the built-in ones
	Name    string                     // shown on the pages; may be empty
	Local   http.Handler               // answers under /local/, for commands of this machine; nil: nothing
	Sync    http.Handler               // answers under /sync/ to phones that it knows by their keys; nil: nothing
	Extras  []web.Extra                // pages that the phone does not carry
	Started func(address string) error // called once with http://HOST:PORT when the listener is up
	Log     *slog.Logger               // nil: the default logger
	Imagery *web.Imagery               // pictures from above; nil: none are offered
	Program fs.FS                      // the phone's program as it was built; nil: the built-in one
	// Pair gives a new phone its key; nil: phones are not kept in step.
	Pair  func(context.Context) (string, error)
	Keys  syncing.Keys // the phones that may take from the shelf
	Shelf *Shelf       // what phones need not work out; nil: they work it out
	// Domain is the server's name on the net: who comes under it shows a key. "": this machine alone is answered.
	Domain    string
	Certs     string       // folder for the domain's certificates; "": another program before this one does the encryption
	Authority string       // directory of the authority that signs them, by RFC 8555; "": the one that autocert asks, Let's Encrypt
	ports     [2]string    // where the domain is served without and with encryption; "": 80 and 443; a test has others
	asking    *http.Client // asks the authority; nil: the default client

	static string // prefix of the static files
}

// Times of the listener: a phone on a bad line may be slow, but nobody keeps a connection for nothing.
const (
	readTimeout  = 60 * time.Second
	writeTimeout = 90 * time.Second
	idleTimeout  = 2 * time.Minute
	stopTimeout  = 5 * time.Second
	mostHeader   = 32 << 10
	mostForm     = 64 << 10  // bytes of an ordinary form
	mostFile     = 128 << 20 // bytes of a file that is read in
)

// Run serves until ctx ends. It answers nil after a stop that was asked for.
func Run(ctx context.Context, o Options) error {
	if o.Addr == "" {
		o.Addr = "127.0.0.1:0"
	}
	if o.Log == nil {
		o.Log = slog.Default()
	}
	h, err := Handler(o)
	if err != nil {
		return err
	}
	l, err := listen(ctx, o.Addr)
	if err != nil {
		return err
	}
	s := o.server(h)
	if o.Domain != "" && o.Certs != "" {
		public, end := context.WithCancel(ctx)
		defer end()
		if err := o.public(public, h); err != nil {
			return errors.Join(err, l.Close())
		}
	}
	done := make(chan error, 1)
	go func() { done <- s.Serve(l) }()
	if o.Started != nil {
		if err := o.Started("http://" + l.Addr().String()); err != nil {
			_ = s.Close() // the failure to start is what counts
			<-done
			return err
		}
	}
	select {
	case err := <-done:
		return fmt.Errorf("serve: the listener ended: %w", err)
	case <-ctx.Done():
	}
	stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTimeout)
	defer cancel()
	err = s.Shutdown(stop)
	if err != nil {
		err = errors.Join(err, s.Close())
	}
	<-done
	if err != nil {
		return fmt.Errorf("serve: stopping: %w", err)
	}
	return nil
}

// server bounds what a connection may take.
func (o Options) server(h http.Handler) *http.Server {
	return &http.Server{Handler: h, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: readTimeout, WriteTimeout: writeTimeout, IdleTimeout: idleTimeout,
		MaxHeaderBytes: mostHeader, ErrorLog: slog.NewLogLogger(o.Log.Handler(), slog.LevelWarn)}
}

// listen opens the address, which must be this machine's own.
func listen(ctx context.Context, addr string) (net.Listener, error) {
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return nil, fault.Wrap(err, fault.BadInput, "Write it as 127.0.0.1:8420.", "%q is no address to listen on", addr)
	}
	if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return nil, fault.New(fault.BadInput, "Use 127.0.0.1: without logins and encryption the pages stay on this machine.", "%s is not an address of this machine alone", addr)
	}
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", addr)
	if err != nil {
		return nil, fault.Wrap(err, fault.Unavailable, "Stop the other program, or choose another port with --addr 127.0.0.1:PORT.", "nothing can listen on %s", addr)
	}
	return l, nil
}

// Handler gives all that the server answers, without a listener.
func Handler(o Options) (http.Handler, error) {
	if o.Log == nil { // a nil logger in an interface would not look like none
		o.Log = slog.New(slog.DiscardHandler)
	}
	files, version := assets.Embedded(), ""
	if o.Dev != "" {
		files, version = os.DirFS(o.Dev), "dev"
		if _, err := fs.Stat(files, "style/theme.css"); err != nil {
			return nil, fault.Wrap(err, fault.NotFound, "Name the folder that holds style, script and vendor.", "%s holds no page files", o.Dev)
		}
	} else {
		var err error
		if version, err = assets.Version(files); err != nil {
			return nil, err
		}
	}
	prefix := "/static/" + version + "/"
	mux := http.NewServeMux()
	mux.Handle("GET "+prefix, http.StripPrefix(prefix, static(files, o.Dev != "")))
	mux.HandleFunc("GET /favicon.ico", func(w http.ResponseWriter, r *http.Request) { http.ServeFileFS(w, r, files, "style/icon.svg") })
	if o.Local != nil {
		mux.Handle("/local/", capped(mostFile, o.Local))
	}
	if o.Sync != nil {
		mux.Handle(syncing.Path, o.Sync) // it bounds what it reads
	}
	pages := web.New(web.Options{Desk: o.Desk, Static: prefix, Log: o.Log, Name: o.Name, Units: o.Units, Extras: slices.Concat(importing.New(o.Desk).Extras(), o.Extras), Imagery: o.Imagery})
	mux.Handle("POST /import", capped(mostFile, pages))
	mux.Handle("POST /report/picture", capped(mostFile, pages))
	mux.Handle("/", capped(mostForm, pages))
	if err := o.mountPhone(mux, files); err != nil {
		return nil, err
	}
	o.static = prefix
	return o.doors(secured(http.NewCrossOriginProtection().Handler(mux))), nil
}

// static sends files; a name that carries the content's version never changes.
func static(files fs.FS, dev bool) http.Handler {
	send := http.FileServerFS(files)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
		if dev {
			w.Header().Set("Cache-Control", "no-store")
		}
		send.ServeHTTP(w, r)
	})
}

// capped bounds what a request may send.
func capped(most int64, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.Body = http.MaxBytesReader(w, r.Body, most)
		next.ServeHTTP(w, r)
	})
}

// secured sets the headers that keep a browser in bounds: nothing is loaded from elsewhere, nothing runs inline.
func secured(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'self'; img-src 'self' data: blob:; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; object-src 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=(self)")
		next.ServeHTTP(w, r)
	})
}

// sameMachine refuses requests that came for another name than this machine's own: a page elsewhere may point its name
// at 127.0.0.1 and would otherwise read these pages.
func sameMachine(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !isLoopback(hostOf(r)) {
			http.Error(w, "These pages answer to 127.0.0.1 and localhost only.", http.StatusMisdirectedRequest)
			return
		}
		next.ServeHTTP(w, r)
	})
}
