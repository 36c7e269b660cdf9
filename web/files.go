// Package web holds what browsers fetch besides pages: styles, scripts, the typeface and the vendored map library.
//
// Start with [Embedded]; hosts serve it under the prefix that [Version] names, so that a changed file has a new address.
// It assumes that every file is small and text or font. Pages themselves are rendered by internal/host/web.
package web

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
)

//go:embed style script phone vendor/*.js vendor/*.woff2 vendor/licences vendor/README.md
var embedded embed.FS

//go:embed dist
var dist embed.FS

// Embedded gives the files of this build.
func Embedded() fs.FS { return embedded }

// Program gives the phone's program as it was built: icehand.wasm.br and wasm_exec.js, or neither when this program was
// built without the phone's part.
func Program() fs.FS {
	sub, err := fs.Sub(dist, "dist")
	if err != nil { // the folder is embedded: it is there
		panic(err)
	}
	return sub
}

// Version names the content of all files: it changes when any of them does.
func Version(files fs.FS) (string, error) {
	h := sha256.New()
	err := fs.WalkDir(files, ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := fs.ReadFile(files, path)
		if err != nil {
			return err
		}
		fmt.Fprintf(h, "%s %d\n", path, len(b))
		h.Write(b)
		return nil
	})
	if err != nil {
		return "", fmt.Errorf("web: naming their version: %w", err)
	}
	return hex.EncodeToString(h.Sum(nil))[:12], nil
}
