//go:build js && wasm

// Command icehand-phone is the program that the phone's browser runs: the pages of the ice on a record in the browser.
//
// The Makefile builds it with GOOS=js GOARCH=wasm; web/phone/worker.js starts it in a worker. The work is in package
// internal/host/phone; this file brings the time zones, which a browser does not lend to programs, and waits.
package main

import (
	_ "time/tzdata"

	"icehand/internal/host/phone"
)

func main() { phone.Run() }
