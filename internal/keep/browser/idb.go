//go:build js && wasm

package browser

import (
	"errors"
	"fmt"
	"strings"
	"sync"
	"syscall/js"
)

// errClosed: the browser closed the connection while something was under way.
var errClosed = errors.New("browser: the connection to the storage was closed")

// domError is an error that the browser reported, known by its name.
type domError struct{ name, message string }

func (e *domError) Error() string { return "browser: " + e.name + ": " + e.message }

// named tells whether an error is the browser's error of that name.
func named(err error, name string) bool {
	var d *domError
	return errors.As(err, &d) && d.name == name
}

// asError makes an error of what the browser gives as one.
func asError(v js.Value) error {
	if v.Type() != js.TypeObject {
		return &domError{"Error", "no reason was given"}
	}
	word := func(key string) string {
		if s := v.Get(key); s.Type() == js.TypeString {
			return s.String()
		}
		return ""
	}
	return &domError{word("name"), word("message")}
}

// try runs f and gives what JavaScript throws in it as an error.
func try(f func()) (err error) {
	defer func() {
		if r := recover(); r != nil {
			thrown, ok := r.(js.Error)
			if !ok {
				panic(r)
			}
			err = asError(thrown.Value)
		}
	}()
	f()
	return nil
}

// outcome is how an asynchronous call of the browser ended.
type outcome struct {
	event string
	value js.Value
}

// listen waits for the first of some events of a target, or for the end of a connection. The caller's goroutine waits;
// the browser's event loop goes on.
func listen(target js.Value, closed <-chan struct{}, events ...string) (outcome, error) {
	done := make(chan outcome, len(events))
	var once sync.Once
	for _, name := range events {
		f := js.FuncOf(func(_ js.Value, args []js.Value) any {
			once.Do(func() { done <- outcome{name, args[0]} })
			return nil
		})
		target.Call("addEventListener", name, f)
		defer f.Release()
		defer target.Call("removeEventListener", name, f)
	}
	select {
	case o := <-done:
		return o, nil
	case <-closed:
		return outcome{}, errClosed
	}
}

// stores are the object stores, all with keys given from outside.
var stores = []string{"meta", "entries", "acts", "places", "heads", "blobs", "texts", "shelf"}

// connection is one open connection to the database.
type connection struct {
	db     js.Value
	closed chan struct{} // closed when the browser has ended the connection
	over   sync.Once
	event  js.Func
}

// connect opens the database, making it when it is not there.
func connect(name string) (*connection, error) {
	factory := js.Global().Get("indexedDB")
	if factory.IsUndefined() || factory.IsNull() {
		return nil, &domError{"NotSupportedError", "this browser offers no storage here"}
	}
	var request js.Value
	if err := try(func() { request = factory.Call("open", name, 1) }); err != nil {
		return nil, err
	}
	upgrade := js.FuncOf(func(_ js.Value, args []js.Value) any {
		db := request.Get("result")
		for _, s := range stores {
			db.Call("createObjectStore", s)
		}
		return nil
	})
	defer upgrade.Release()
	request.Call("addEventListener", "upgradeneeded", upgrade)
	o, err := listen(request, nil, "success", "error", "blocked")
	if err != nil {
		return nil, err
	}
	if o.event != "success" {
		if o.event == "blocked" {
			return nil, &domError{"BlockedError", "another window holds the storage"}
		}
		return nil, asError(request.Get("error"))
	}
	c := &connection{db: request.Get("result"), closed: make(chan struct{})}
	c.event = js.FuncOf(func(js.Value, []js.Value) any { c.close(); return nil })
	c.db.Call("addEventListener", "close", c.event)         // the browser has dropped it
	c.db.Call("addEventListener", "versionchange", c.event) // somebody deletes or changes the database
	return c, nil
}

// close ends the connection; calling it again does nothing.
func (c *connection) close() {
	c.over.Do(func() {
		_ = try(func() { c.db.Call("close") }) // it may be closed already
		close(c.closed)
	})
}

// transaction runs f with a transaction over some stores and waits until the browser reports it complete. What f asks
// for has its result when transaction returns without an error. A writing transaction is strict: complete means that the
// disk has confirmed.
func (c *connection) transaction(write bool, names []string, f func(store func(name string) js.Value)) error {
	list := make([]any, len(names))
	for i, n := range names {
		list[i] = n
	}
	mode := "readonly"
	if write {
		mode = "readwrite"
	}
	select {
	case <-c.closed:
		return errClosed
	default:
	}
	var tx js.Value
	if err := try(func() { tx = c.db.Call("transaction", list, mode, map[string]any{"durability": "strict"}) }); err != nil {
		if named(err, "InvalidStateError") || named(err, "NotFoundError") {
			return fmt.Errorf("%w: %w", errClosed, err)
		}
		return err
	}
	err := try(func() { f(func(name string) js.Value { return tx.Call("objectStore", name) }) })
	if err != nil {
		_ = try(func() { tx.Call("abort") }) // it may have ended already; nothing of it is stored
		return err
	}
	o, err := listen(tx, c.closed, "complete", "abort")
	if err != nil {
		return err
	}
	if o.event == "complete" {
		return nil
	}
	if e := tx.Get("error"); e.Type() == js.TypeObject {
		return asError(e)
	}
	return &domError{"AbortError", "the browser gave the transaction up"}
}

// toJS copies bytes into the browser.
func toJS(b []byte) js.Value {
	a := js.Global().Get("Uint8Array").New(len(b))
	js.CopyBytesToJS(a, b)
	return a
}

// fromJS copies bytes out of the browser; ok is false for anything else.
func fromJS(v js.Value) (b []byte, ok bool) {
	if v.Type() != js.TypeObject || !v.InstanceOf(js.Global().Get("Uint8Array")) {
		return nil, false
	}
	b = make([]byte, v.Length())
	js.CopyBytesToGo(b, v)
	return b, true
}

// within gives the key range from a to b, both included.
func within(a, b any) js.Value { return js.Global().Get("IDBKeyRange").Call("bound", a, b) }

// Delete removes a database whole, for tests and for a phone that is handed on.
func Delete(name string) error {
	request := js.Global().Get("indexedDB").Call("deleteDatabase", name)
	o, err := listen(request, nil, "success", "error", "blocked")
	if err == nil && o.event != "success" {
		err = &domError{"Error", "the database " + strings.TrimSpace(name) + " could not be removed: " + o.event}
	}
	return err
}
