package serve

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"slices"
	"strings"

	"github.com/andybalholm/brotli"

	"icehand/internal/base/fault"
	"icehand/internal/host/phone"
	assets "icehand/web"
)

// phoneFile is one file of the app on the phone.
type phoneFile struct {
	data   []byte
	media  string
	packed []byte // with brotli; nil: sent as it is
}

// phoneApp is the app as one version of files.
type phoneApp struct {
	version string
	files   map[string]phoneFile
}

// phoneWants tells whether a page file belongs to the app: what only the server's pages need stays ashore.
func phoneWants(name string) bool {
	switch name {
	case "script/rehearsal.js", "style/rehearsal.css", "style/report.css", "phone/sw.js", "phone/manifest.json", "vendor/ol-parts.js":
		return false
	}
	return strings.HasPrefix(name, "style/") || strings.HasPrefix(name, "script/") || strings.HasPrefix(name, "phone/") || strings.HasPrefix(name, "vendor/") && (strings.HasSuffix(name, ".js") || strings.HasSuffix(name, ".woff2"))
}

// mountPhone lets a mux answer for the app on the phone: its files and its pairing.
func (o Options) mountPhone(mux *http.ServeMux, files fs.FS) error {
	if o.Program == nil {
		o.Program = assets.Program()
	}
	app, err := newPhoneApp(files, o.Program)
	if err != nil {
		return err
	}
	if app == nil {
		mux.HandleFunc("GET /phone/", unbuilt)
		return nil
	}
	mux.HandleFunc("POST "+phone.PairPath, o.pair)
	o.mountShelf(mux)
	return app.mount(mux, files)
}

// newPhoneApp gathers the app from the page files and the built program; nil when the program was not built.
func newPhoneApp(files, program fs.FS) (*phoneApp, error) {
	a := &phoneApp{files: map[string]phoneFile{}}
	wasm, err := fs.ReadFile(program, "icehand.wasm.br")
	if err == nil {
		a.files["phone/icehand.wasm"] = phoneFile{media: "application/wasm", packed: wasm}
	} else if wasm, err = fs.ReadFile(program, "icehand.wasm"); err == nil {
		a.files["phone/icehand.wasm"] = phoneFile{media: "application/wasm", data: wasm}
	} else {
		return nil, nil
	}
	run, err := fs.ReadFile(program, "wasm_exec.js")
	if err != nil {
		return nil, fault.Wrap(err, fault.Damaged, "Build it again with make.", "the phone's program was built without its starter")
	}
	a.files["phone/wasm_exec.js"] = phoneFile{data: run, media: "text/javascript; charset=utf-8"}
	err = fs.WalkDir(files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !phoneWants(name) {
			return err
		}
		b, err := fs.ReadFile(files, name)
		a.files[name] = phoneFile{data: b, media: mediaOf(name)}
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("serve: gathering the app for phones: %w", err)
	}
	h := sha256.New()
	for _, name := range a.names() {
		f := a.files[name]
		fmt.Fprintf(h, "%s %d %d\n", name, len(f.data), len(f.packed))
		h.Write(f.data)
		h.Write(f.packed)
	}
	a.version = hex.EncodeToString(h.Sum(nil))[:12]
	for _, name := range []string{"phone/shell.html"} {
		f := a.files[name]
		f.data = bytes.ReplaceAll(f.data, []byte("{files}"), []byte(a.prefix()))
		a.files[name] = f
	}
	return a, nil
}

// mediaOf names a file's media type. A machine's own table is not asked: it may say other things.
func mediaOf(name string) string {
	switch path.Ext(name) {
	case ".js":
		return "text/javascript; charset=utf-8"
	case ".css":
		return "text/css; charset=utf-8"
	case ".svg":
		return "image/svg+xml"
	case ".woff2":
		return "font/woff2"
	case ".png":
		return "image/png"
	}
	return mime.TypeByExtension(path.Ext(name))
}

func (a *phoneApp) names() []string {
	var out []string
	for name := range a.files {
		out = append(out, name)
	}
	slices.Sort(out)
	return out
}

func (a *phoneApp) prefix() string { return "/phone/files/" + a.version + "/" }

// phonePolicy is that of the app: its program is compiled in the browser, and nothing comes from elsewhere.
const phonePolicy = "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; img-src 'self' data: blob:; media-src blob:; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; object-src 'none'"

// phonePermissions is what the app may ask the phone for: its place, and the microphone for voice memos.
const phonePermissions = "camera=(), microphone=(self), geolocation=(self)"

// mount lets a mux answer for the app.
func (a *phoneApp) mount(mux *http.ServeMux, files fs.FS) error {
	worker, err := fs.ReadFile(files, "phone/sw.js")
	if err != nil {
		return fmt.Errorf("serve: reading the service worker: %w", err)
	}
	manifest, err := fs.ReadFile(files, "phone/manifest.json")
	if err != nil {
		return fmt.Errorf("serve: reading the manifest: %w", err)
	}
	manifest = bytes.ReplaceAll(manifest, []byte("{files}"), []byte(a.prefix()))
	var list []string
	for _, name := range a.names() {
		list = append(list, a.prefix()+name)
	}
	parts, err := json.Marshal(list)
	if err != nil {
		return fmt.Errorf("serve: listing the app's files: %w", err)
	}
	worker = fmt.Appendf(nil, "const version = %q;\nconst files = %s;\n%s", a.version, parts, worker)
	send := func(media, keep string, data []byte) http.HandlerFunc {
		return func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Security-Policy", phonePolicy)
			w.Header().Set("Permissions-Policy", phonePermissions)
			w.Header().Set("Content-Type", media)
			w.Header().Set("Cache-Control", keep)
			_, _ = w.Write(data) // the browser has gone away: nobody to tell
		}
	}
	mux.HandleFunc("GET /phone/sw.js", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Service-Worker-Allowed", "/phone/")
		send("text/javascript; charset=utf-8", "no-cache", worker)(w, r)
	})
	mux.HandleFunc("GET /phone/manifest.json", send("application/manifest+json", "no-cache", manifest))
	mux.HandleFunc("GET /phone/files/", a.file)
	mux.HandleFunc("GET /phone/", send("text/html; charset=utf-8", "no-cache", a.files["phone/shell.html"].data))
	mux.Handle("GET /phone", http.RedirectHandler("/phone/", http.StatusSeeOther))
	return nil
}

// file sends one file of this version. One of an older version is gone: who has it kept it.
func (a *phoneApp) file(w http.ResponseWriter, r *http.Request) {
	name, ours := strings.CutPrefix(r.URL.Path, a.prefix())
	f, ok := a.files[name]
	if !ours || !ok {
		http.Error(w, "There is no such file in this version of the app.", http.StatusNotFound)
		return
	}
	h := w.Header()
	h.Set("Content-Security-Policy", phonePolicy)
	h.Set("Permissions-Policy", phonePermissions) // the shell is kept with it
	h.Set("Content-Type", f.media)
	h.Set("Cache-Control", "public, max-age=31536000, immutable")
	if f.packed == nil {
		_, _ = w.Write(f.data) // the browser has gone away: nobody to tell
		return
	}
	h.Set("Vary", "Accept-Encoding")
	if strings.Contains(r.Header.Get("Accept-Encoding"), "br") {
		h.Set("Content-Encoding", "br")
		_, _ = w.Write(f.packed) // as above
		return
	}
	_, _ = io.Copy(w, brotli.NewReader(bytes.NewReader(f.packed))) // as above
}

// unbuilt says that this program has no part for phones.
func unbuilt(w http.ResponseWriter, _ *http.Request) {
	http.Error(w, "This program was built without the phone's part. Build it with make.", http.StatusNotFound)
}
