// Command pack compresses one file for the way to a phone: pack FROM TO [QUALITY]. A TO that holds FROM already is left as
// it is, unless a quality is named.
//
// The Makefile runs it. Quality 9, the default, takes seconds; 11 takes minutes and saves a sixth more, for what is given
// to others. It leaves unpacking to browsers.
package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"strconv"

	"github.com/andybalholm/brotli"
)

func main() {
	if err := pack(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "pack: "+err.Error())
		os.Exit(1)
	}
}

func pack(args []string) error {
	quality := 9
	switch len(args) {
	case 2:
	case 3:
		var err error
		if quality, err = strconv.Atoi(args[2]); err != nil || quality < 0 || quality > brotli.BestCompression {
			return fmt.Errorf("quality %q is not 0 to 11", args[2])
		}
	default:
		return fmt.Errorf("usage: pack FROM TO [QUALITY]")
	}
	data, err := os.ReadFile(args[0])
	if err != nil {
		return err
	}
	if old, err := os.ReadFile(args[1]); err == nil && len(args) == 2 {
		if held, err := io.ReadAll(brotli.NewReader(bytes.NewReader(old))); err == nil && bytes.Equal(held, data) {
			return nil
		}
	}
	var out bytes.Buffer
	w := brotli.NewWriterOptions(&out, brotli.WriterOptions{Quality: quality, LGWin: 24})
	if _, err := w.Write(data); err != nil {
		return err
	}
	if err := w.Close(); err != nil {
		return err
	}
	return os.WriteFile(args[1], out.Bytes(), 0o644)
}
