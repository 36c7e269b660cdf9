//go:build js && wasm

package phone

import (
	"context"
	"syscall/js"

	"icehand/internal/base/fault"
)

// giveFile makes the file by which the day goes to another phone.
func (h *host) giveFile(ctx context.Context) any {
	h.mu.Lock()
	d := h.desk
	h.mu.Unlock()
	f, err := handOver(ctx, d)
	if err != nil {
		return map[string]any{"trouble": fault.Public(err).Error()}
	}
	return map[string]any{"trouble": "", "name": f.Name, "entries": f.Entries, "data": bytesOut(f.Data)}
}

// takeFile stores what such a file brings.
func (h *host) takeFile(ctx context.Context, v js.Value) any {
	if v.Type() != js.TypeObject || !v.InstanceOf(js.Global().Get("Uint8Array")) {
		return map[string]any{"trouble": "There is no file."}
	}
	if n := v.Length(); n > mostFile {
		return map[string]any{"trouble": fault.Public(tooLarge(n)).Error()} // its bytes stay outside
	}
	data := make([]byte, v.Length())
	js.CopyBytesToGo(data, v)
	out, err := takeOver(ctx, h.store, data)
	if out.Adopted {
		h.joined(ctx)
	}
	if out.New > 0 || out.Adopted {
		h.reopen()
	}
	told := map[string]any{"trouble": "", "entries": out.Entries, "new": out.New}
	if err != nil {
		told["trouble"] = fault.Public(err).Error()
	}
	return told
}

// joined notes whose record this phone holds now, so that it pairs with no other server. Without the note the entries say it.
func (h *host) joined(ctx context.Context) {
	if id, err := h.store.Identity(ctx); err == nil {
		_ = h.store.SetNote(ctx, noteOutfit, []byte(id.Outfit.String())) // as above
	}
}

// bytesOut copies bytes into the page's world.
func bytesOut(b []byte) js.Value {
	a := js.Global().Get("Uint8Array").New(len(b))
	js.CopyBytesToJS(a, b)
	return a
}
