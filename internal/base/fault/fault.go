// Package fault answers one question: what may a person be told about a failure?
//
// Start with [New] for a mistake that the user can mend and [Wrap] for a failure underneath.
// An error that is not a [*Error] is an internal failure: hosts show a plain apology and log the cause.
// It leaves out how a code becomes an HTTP status or an exit status: each host keeps that table.
package fault

import (
	"errors"
	"fmt"
	"strings"
)

// Code classes a fault. Hosts map it to an HTTP status, an exit status and a banner.
type Code string

// The codes. A new one needs a line in each host's table.
const (
	BadInput    Code = "bad_input"   // what was typed, sent or read from a file is wrong and can be mended
	NotFound    Code = "not_found"   // what was named is not there
	Missing     Code = "missing"     // something needed first has not been recorded yet
	Conflict    Code = "conflict"    // another writer, another version, another state
	Damaged     Code = "damaged"     // stored data does not verify
	NotSaved    Code = "not_saved"   // the store could not confirm; the act may be repeated with the same id
	Unavailable Code = "unavailable" // a service or host function cannot be reached now
	Internal    Code = "internal"    // our own mistake
)

// Error is the one error type whose text may be shown to a person.
type Error struct {
	Code    Code
	Message string // a sentence that is safe to show: what is wrong and where; no positions of holes, no names
	Hint    string // how to mend it; may be empty
	Cause   error  // logged, never shown; may be nil
}

// Error gives message and hint in one line; the cause is left to logs.
func (e *Error) Error() string {
	if e.Hint == "" {
		return e.Message
	}
	return strings.TrimRight(e.Message, ".") + ". " + e.Hint
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Cause }

// New makes a fault with a formatted message.
func New(code Code, hint, format string, args ...any) *Error {
	return &Error{Code: code, Message: fmt.Sprintf(format, args...), Hint: hint}
}

// Wrap makes a fault on top of a cause.
func Wrap(cause error, code Code, hint, format string, args ...any) *Error {
	return &Error{Code: code, Message: fmt.Sprintf(format, args...), Hint: hint, Cause: cause}
}

// CodeOf gives the code of err, [Internal] for an error of another type and "" for nil.
func CodeOf(err error) Code {
	if err == nil {
		return ""
	}
	var f *Error
	if errors.As(err, &f) {
		return f.Code
	}
	return Internal
}

// Public gives the fault to show for err: itself when it is one, else a plain internal fault that carries err as cause.
func Public(err error) *Error {
	var f *Error
	if errors.As(err, &f) {
		return f
	}
	return &Error{Code: Internal, Message: "something went wrong inside the program", Hint: "Nothing that was shown as saved is affected. Try again; if it happens twice, keep the log.", Cause: err}
}
