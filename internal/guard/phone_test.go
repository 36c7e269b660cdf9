package guard

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/andybalholm/brotli"
)

// phoneBudget is what the phone's package may weigh in all, packed; phoneCeiling is what it weighs now at quality 9, with
// room for a tenth. The ceiling comes down until it meets the budget; it never goes up without a reason written here.
const (
	phoneBudget  = 2_500_000
	phoneCeiling = 4_000_000
)

// TestPhonePackage weighs the phone's package as the Makefile built it, and looks into its program for what must not be
// linked: a template engine that reaches methods by name keeps every method of every type.
func TestPhonePackage(t *testing.T) {
	packed, err := os.ReadFile(filepath.Join(root, "web/dist/icehand.wasm.br"))
	if os.IsNotExist(err) {
		t.Skip("the phone's program has not been built here: make phone")
	}
	if err != nil {
		t.Fatal(err)
	}
	total := len(packed)
	for _, pattern := range []string{"web/phone/*", "web/script/*.js", "web/style/*", "web/vendor/*.js", "web/vendor/*.woff2", "web/dist/*.js"} {
		files, err := filepath.Glob(filepath.Join(root, pattern))
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %d files, %v", pattern, len(files), err)
		}
		for _, f := range files {
			b, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			var out bytes.Buffer
			w := brotli.NewWriterLevel(&out, 9)
			if _, err := w.Write(b); err != nil {
				t.Fatal(err)
			}
			if err := w.Close(); err != nil {
				t.Fatal(err)
			}
			total += out.Len()
		}
	}
	t.Logf("the phone's package weighs %d bytes packed, the budget is %d", total, phoneBudget)
	if total > phoneCeiling {
		t.Errorf("the phone's package weighs %d bytes packed, at most %d", total, phoneCeiling)
	}
	program, err := io.ReadAll(brotli.NewReader(bytes.NewReader(packed)))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(program, []byte("icehand/internal/host/web.")) {
		t.Fatal("the program's function names cannot be read: what is linked is not known")
	}
	for _, bad := range []string{"text/template.(*Template).Execute", "html/template.(*Template).Execute", "net/http.(*Transport).dialConn"} {
		if bytes.Contains(program, []byte(bad)) {
			t.Errorf("the phone's program holds %s", bad)
		}
	}
}

// TestPhoneProgram: what is the server's alone is in no package that the phone's program imports.
func TestPhoneProgram(t *testing.T) {
	deps := strings.Fields(goTool(t, wasm, "list", "-deps", "./cmd/icehand-phone"))
	have := map[string]bool{}
	for _, d := range deps {
		have[d] = true
	}
	if !have[module+"/internal/keep/browser"] || !have[module+"/internal/host/web"] {
		t.Fatal("go list found nothing of ours")
	}
	for bad, why := range map[string]string{
		"database/sql": "there is no SQL on the phone", "gonum.org/v1/plot": "it carries fonts", "github.com/paulmach/orb/geojson": "it brings the driver of a document database",
		"github.com/andybalholm/brotli": "browsers unpack", "github.com/a-h/templ": "it names net/http and the standard templates; run make generate, which rewrites what templ wrote", "net/http/httptest": "it belongs to tests", "log/slog": "the phone keeps no log", "github.com/alecthomas/kong": "there is no command line on the phone",
		module + "/internal/sim": "made-up lakes stay with the server", module + "/internal/host/report": "guest reports are made ashore", module + "/internal/host/paper": "paper is printed ashore",
		module + "/internal/host/rehearsal": "rehearsals run ashore", module + "/internal/host/importing": "files come in ashore", module + "/internal/host/intake": "files come in ashore", module + "/internal/feed/holelog": "hole logs come in ashore", module + "/internal/host/imagery": "pictures are fetched ashore", module + "/internal/keep/sqlite": "it does not run in a browser",
	} {
		if have[bad] {
			t.Errorf("the phone's program depends on %s: %s", bad, why)
		}
	}
}
