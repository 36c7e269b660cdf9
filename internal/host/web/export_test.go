package web

import (
	"strings"
)

// Posts lists the addresses that take a form.
func Posts() []string {
	var out []string
	for pattern := range (&handler{}).routes() {
		if path, ok := strings.CutPrefix(pattern, "POST "); ok {
			out = append(out, path)
		}
	}
	return out
}
