//go:build !js

package browser

import (
	"context"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// page runs a test binary as Go's own runner for Node does, with the browser's console in place of its output.
const page = `<!DOCTYPE html><title>tests</title><script src="/wasm_exec.js"></script><script>
let text = ""; const decode = new TextDecoder();
globalThis.fs.writeSync = (fd, b) => { text += decode.decode(b, { stream: true }); return b.length; };
const go = new Go(); go.argv = ["browser.test", "-test.v", "-test.timeout=60s"];
WebAssembly.instantiateStreaming(fetch("/test.wasm"), go.importObject).then((r) => go.run(r.instance)).then(() => { document.title = "over"; }, (e) => { text += e; document.title = "over"; });
</script>`

// TestInBrowser builds this package's tests for the browser and runs them in one: the suite that every store passes, on a
// real IndexedDB.
func TestInBrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("a browser test takes seconds")
	}
	path := os.Getenv("ICEHAND_BROWSER")
	for _, n := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path == "" {
			path, _ = exec.LookPath(n) // "" when it is not there
		}
	}
	if path == "" {
		if os.Getenv("CI") == "true" {
			t.Fatal("no chromium found, and CI must run the browser tests")
		}
		t.Skip("no chromium found: install it to test the store in a browser")
	}
	binary := filepath.Join(t.TempDir(), "test.wasm")
	build := exec.Command("go", "test", "-c", "-o", binary, ".")
	build.Env = append(os.Environ(), "GOOS=js", "GOARCH=wasm")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) { _, _ = w.Write([]byte(page)) })
	mux.HandleFunc("GET /test.wasm", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "application/wasm")
		http.ServeFile(w, r, binary)
	})
	mux.HandleFunc("GET /wasm_exec.js", func(w http.ResponseWriter, r *http.Request) {
		http.ServeFile(w, r, filepath.Join(runtime.GOROOT(), "lib/wasm/wasm_exec.js"))
	})
	s := httptest.NewServer(mux)
	defer s.Close()
	alloc, cancel := chromedp.NewExecAllocator(t.Context(), chromedp.ExecPath(path), chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun, chromedp.UserDataDir(t.TempDir()))
	defer cancel()
	ctx, cancel := chromedp.NewContext(alloc)
	defer cancel()
	ctx, cancel = context.WithTimeout(ctx, 90*time.Second)
	defer cancel()
	if err := chromedp.Do(ctx, chromedp.Navigate(s.URL)); err != nil {
		t.Fatal(err)
	}
	over := false
	for start := time.Now(); !over && time.Since(start) < 80*time.Second; time.Sleep(100 * time.Millisecond) {
		over, _ = chromedp.Run(ctx, chromedp.Evaluate[bool](`document.title === "over"`)) // asked again until it is so
	}
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string](`text`))
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(text, "--- PASS: TestStore/"); !over || n < 20 || strings.Count(text, "--- PASS: TestReplica/") < 7 || !strings.HasSuffix(strings.TrimSpace(text), "PASS") {
		t.Errorf("%d tests of the suite passed, ended: %v\n%s", n, over, text)
	}
	if os.Getenv("ICEHAND_SHOW") != "" {
		t.Log(text)
	}
}
