// Package syncing keeps the journal of a phone and that of a server in step: whatever one of them holds, the other gets,
// once, unchanged, with proof.
//
// A phone makes a [Client] with [Open] and calls [Client.Step] whenever there may be a signal: at start, when the page
// comes back to view, after an act, by button. One Step pushes, pulls and compares until both hold the same, or ends
// with an error after which nothing is lost and the next Step goes on. [Client.Ashore] tells which entries the server
// has proved to hold, [Client.Waiting] how many it has not. The server's side is [Server], over HTTP through
// [Server.Handler] and [HTTP]. docs/sync.md is the protocol.
//
//	c, err := syncing.Open(ctx, syncing.Options{Store: st, Exchange: syncing.HTTP(client, "https://…", token)})
//	out, err := c.Step(ctx) // out.Reopen: open the desk anew; errors.Is(err, syncing.ErrEnded): this phone was ended
//
// It assumes one account, a server that may read everything, and stores that are [store.Replica]. It keeps no state that
// could contradict the entries: what a client remembers between runs ([Memory]) only saves asking, and is checked. It
// leaves out people with different rights, signatures, and waking a phone.
package syncing

import (
	"errors"
	"time"

	"github.com/google/uuid"

	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// Version is the version of the protocol. A server answers this one and refuses newer ones in plain words.
const Version = 1

// The limits of one message. A phone keeps below them, a server holds it to them.
const (
	mostEntries  = 500       // entries in a push or a page
	mostPacked   = 1 << 20   // bytes of a message as sent
	mostUnpacked = 8 << 20   // bytes of a message unpacked
	batchBytes   = 768 << 10 // bytes of entries a sender puts into one message, unless one entry alone is more
	mostMarks    = 4096      // marks in a comparison
	mostNames    = 4096      // names of texts and blobs in a question
	fetchNames   = 64        // of them in a request for the things themselves
	smallBlob    = 64 << 10  // a blob up to this goes ahead of the entries that name it
	mostScanned  = 100_000   // positions passed over in one page
)

// maxAhead is how far an entry's clock may lead the server's before it is counted as suspect. It is the bound beyond
// which no clock is merged (docs/journal-format.md, 3).
const maxAhead = 5 * time.Minute

// Op is what is asked for; it is the last part of the path.
type Op string

// The questions.
const (
	OpDigest  Op = "digest" // compare the ends of all journals
	OpPush    Op = "push"   // take entries of one journal
	OpPull    Op = "pull"   // give entries after a position
	OpLack    Op = "lack"   // which of these texts and blobs do you not hold?
	OpTexts   Op = "texts"  // take texts
	OpFetch   Op = "fetch"  // give texts, and say which blobs you hold
	OpBlob    Op = "blob"   // give a blob
	OpPutBlob Op = "putblob"
)

// Mark says that an entry of a journal has a number and a hash.
type Mark struct {
	N    uint64       `json:"n"`
	Hash journal.Hash `json:"hash"`
}

// Cursor is a place in the server's order, with the hash of the entry there: a position alone would go on meaning
// something after the server was set back, and mean something else.
type Cursor struct {
	Pos  store.Position `json:"pos"`
	Hash journal.Hash   `json:"hash"`
}

// Ask is one question of a phone.
type Ask struct {
	Op      Op                   `json:"-"`
	Version int                  `json:"sync"`
	Now     int64                `json:"now"`               // the phone's clock, ms since 1970
	Epoch   uuid.UUID            `json:"epoch,omitzero"`    // the server's, as the phone knows it; push and pull
	Journal uuid.UUID            `json:"journal,omitzero"`  // digest: the phone's own; push: the one pushed
	Marks   map[uuid.UUID][]Mark `json:"marks,omitempty"`   // digest, pull: what the phone holds
	After   Cursor               `json:"after,omitzero"`    // pull
	Names   []journal.Hash       `json:"names,omitempty"`   // lack, fetch, blob, putblob
	Count   int                  `json:"entries,omitempty"` // lines that follow
	Texted  int                  `json:"texts,omitempty"`   // lines that follow those

	Entries []journal.Entry `json:"-"` // push
	Texts   []store.Salted  `json:"-"` // texts
	Data    []byte          `json:"-"` // putblob
}

// Why a push or a pull was not taken; the phone then compares and starts over.
const (
	WhyEpoch = "epoch" // the server is not the one that the phone knows: it was restored
	WhyFork  = "fork"  // it holds another content under a number
	WhyGap   = "gap"   // it lacks what comes before
	WhyReset = "reset" // the cursor means nothing here
)

// Answer is one answer of the server.
type Answer struct {
	Version int                  `json:"sync"`
	Now     int64                `json:"now"`               // the server's clock, ms since 1970
	Epoch   uuid.UUID            `json:"epoch"`             // random; another one after a restore
	Why     string               `json:"why,omitempty"`     // why nothing was taken or given
	Outfit  uuid.UUID            `json:"outfit,omitzero"`   // digest
	Account uuid.UUID            `json:"account,omitzero"`  // digest
	Heads   map[uuid.UUID]Mark   `json:"heads,omitempty"`   // digest: the end of every journal
	Agree   map[uuid.UUID]uint64 `json:"agree,omitempty"`   // digest, pull: the last of the phone's marks that holds here
	Head    Mark                 `json:"head,omitzero"`     // push: the end of that journal
	Ahead   int                  `json:"ahead,omitempty"`   // push: entries kept whose clock is far ahead
	To      Cursor               `json:"to,omitzero"`       // digest: the end of the order; pull: where this page ends
	Runs    []int                `json:"runs,omitempty"`    // pull: positions given (above 0) and passed over (below 0)
	More    bool                 `json:"more,omitempty"`    // pull: there is another page
	Names   []journal.Hash       `json:"names,omitempty"`   // lack: not held; fetch: blobs held
	Count   int                  `json:"entries,omitempty"` // lines that follow
	Texted  int                  `json:"texts,omitempty"`   // lines that follow those

	Entries []journal.Entry `json:"-"` // pull
	Texts   []store.Salted  `json:"-"` // fetch
	Data    []byte          `json:"-"` // blob
}

var (
	// ErrEnded: the server has ended this phone's access. Recording goes on; nothing travels any more.
	ErrEnded = errors.New("syncing: access has ended")
	// ErrWipe: as ErrEnded, and what the phone holds is to be removed. The host asks no server again.
	ErrWipe = errors.New("syncing: the phone is to be wiped")
	// errAgain: what was known of the server does not hold; compare and start over.
	errAgain = errors.New("syncing: what was known of the server does not hold")
)

func mark(h journal.Head) Mark { return Mark{h.N, h.Hash} }
