// Command pack compresses one file for the way to a phone: pack FROM TO. A TO that holds FROM already is left as it is.
//
// The Makefile runs it. It compresses at the highest quality, which takes a minute and is done once a build; it leaves
// unpacking to browsers.
package main

import (
	"bytes"
	"fmt"
	"io"
	"os"

	"github.com/andybalholm/brotli"
)

func main() {
	if err := pack(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "pack: "+err.Error())
		os.Exit(1)
	}
}

func pack(args []string) error {
	if len(args) != 2 {
		return fmt.Errorf("usage: pack FROM TO")
	}
	data, err := os.ReadFile(args[0])
	if err != nil {
		return err
	}
	if old, err := os.ReadFile(args[1]); err == nil {
		if held, err := io.ReadAll(brotli.NewReader(bytes.NewReader(old))); err == nil && bytes.Equal(held, data) {
			return nil
		}
	}
	var out bytes.Buffer
	w := brotli.NewWriterOptions(&out, brotli.WriterOptions{Quality: brotli.BestCompression, LGWin: 24})
	if _, err := w.Write(data); err != nil {
		return err
	}
	if err := w.Close(); err != nil {
		return err
	}
	return os.WriteFile(args[1], out.Bytes(), 0o644)
}
