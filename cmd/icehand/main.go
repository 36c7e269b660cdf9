// Command icehand is the server and the command line of a guide's record and advice.
//
// Start with `icehand demo`. The work is in package internal/host/cli; this file wires the machine's streams, clock and
// environment to it and exits. It assumes nothing and leaves everything else out.
package main

import (
	"os"

	"icehand/internal/host/cli"
)

var version = "unversioned" // set by the Makefile

func main() {
	os.Exit(cli.Main(os.Args[1:], cli.System(version)))
}
