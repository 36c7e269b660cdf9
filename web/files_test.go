package web

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"os"
	"strings"
	"testing"
)

// TestVendoredFiles: the vendored files are those that the recipe made, and each library's licence is beside it.
func TestVendoredFiles(t *testing.T) {
	f, err := os.Open("vendor/SHA256SUMS")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	n := 0
	for s := bufio.NewScanner(f); s.Scan(); n++ {
		want, name, ok := strings.Cut(s.Text(), "  ")
		b, err := fs.ReadFile(Embedded(), "vendor/"+name)
		if !ok || err != nil {
			t.Fatalf("%q: %v", s.Text(), err)
		}
		if sum := sha256.Sum256(b); hex.EncodeToString(sum[:]) != want {
			t.Errorf("%s is not what the recipe made", name)
		}
	}
	if n != 4 {
		t.Errorf("%d checksums, want 4", n)
	}
	for _, name := range []string{"openlayers", "rbush", "quickselect", "idiomorph", "atkinson-hyperlegible-next"} {
		if b, err := fs.ReadFile(Embedded(), "vendor/licences/"+name+".txt"); err != nil || len(b) < 300 {
			t.Errorf("licence of %s: %d bytes, %v", name, len(b), err)
		}
	}
}

func TestVersionFollowsContent(t *testing.T) {
	a, err := Version(Embedded())
	if err != nil || len(a) != 12 {
		t.Fatalf("%q, %v", a, err)
	}
	b, err := Version(os.DirFS("style"))
	if err != nil || a == b {
		t.Errorf("other files have the same version %q, %v", b, err)
	}
}
