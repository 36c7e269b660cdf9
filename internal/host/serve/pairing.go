package serve

import (
	"encoding/json"
	"net/http"

	"icehand/internal/base/fault"
	"icehand/internal/host/phone"
)

// pair gives a phone a key of its own. Whoever may see these pages may pair a phone.
func (o Options) pair(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Cache-Control", "no-store")
	if o.Pair == nil {
		http.Error(w, "This server keeps no phone in step with its record.", http.StatusNotFound)
		return
	}
	key, err := o.Pair(r.Context())
	if err != nil {
		o.Log.Error("A phone could not be paired", "cause", err)
		http.Error(w, fault.Public(err).Error(), http.StatusServiceUnavailable)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(phone.Pairing{Token: key, Outfit: o.Desk.Identity().Outfit}) // a phone that hung up pairs again
}
