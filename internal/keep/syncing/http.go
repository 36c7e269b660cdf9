package syncing

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// Path is where the server's side is mounted.
const Path = "/sync/"

// mostTime is how long an answer may take to be made, and how long a phone waits for one.
const (
	mostTime = 30 * time.Second
	mostWait = 90 * time.Second
)

// problem is the answer to what is not answered.
type problem struct {
	Error struct {
		Code    fault.Code `json:"code"`
		Message string     `json:"message"`
		Hint    string     `json:"hint"`
	} `json:"error"`
	Ended bool `json:"ended,omitempty"` // this phone's access has ended
	Wipe  bool `json:"wipe,omitempty"`  // and what it holds is to be removed
}

// statuses of codes; docs/sync.md tables them.
var statuses = map[fault.Code]int{
	fault.BadInput: http.StatusBadRequest, fault.NotFound: http.StatusNotFound, fault.Missing: http.StatusNotFound, fault.Conflict: http.StatusConflict,
	fault.Damaged: http.StatusUnprocessableEntity, fault.NotSaved: http.StatusInsufficientStorage, fault.Unavailable: http.StatusServiceUnavailable, fault.Internal: http.StatusInternalServerError,
}

// HTTP makes the exchange over HTTP with the server at a base address, https://HOST or http://127.0.0.1:PORT. The token
// is the phone's own and goes nowhere else. A nil client is one that follows no redirects and waits its time.
func HTTP(client *http.Client, base, token string) Exchange {
	if client == nil {
		client = &http.Client{Timeout: mostWait, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	}
	return func(ctx context.Context, a Ask) (Answer, error) {
		ctx, cancel := context.WithTimeout(ctx, mostWait)
		defer cancel()
		req, err := request(ctx, base, a)
		if err != nil {
			return Answer{}, err
		}
		req.Header.Set("Authorization", "Bearer "+token)
		res, err := client.Do(req)
		if err != nil {
			if u := (*url.Error)(nil); errors.As(err, &u) {
				err = u.Err // without the address
			}
			return Answer{}, fault.Wrap(err, fault.Unavailable, "Try again where there is a signal. Nothing is lost meanwhile.", "the server cannot be reached")
		}
		defer res.Body.Close()
		return response(a, res)
	}
}

// request writes a question as a request.
func request(ctx context.Context, base string, a Ask) (*http.Request, error) {
	to, err := url.JoinPath(base, Path)
	if err != nil {
		return nil, fault.Wrap(err, fault.BadInput, "Write it as https://HOST.", "the server's address cannot be read")
	}
	switch a.Op {
	case OpBlob:
		return http.NewRequestWithContext(ctx, http.MethodGet, to+"blob/"+name(a).String(), nil)
	case OpPutBlob:
		return http.NewRequestWithContext(ctx, http.MethodPut, to+"blob/"+name(a).String(), bytes.NewReader(a.Data))
	}
	text, err := a.Encode()
	if err != nil {
		return nil, err
	}
	packed := pack(text)
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, to+string(a.Op), bytes.NewReader(packed))
	if err != nil {
		return nil, fmt.Errorf("syncing: asking: %w", err)
	}
	req.Header.Set("Content-Type", "application/x-ndjson")
	req.Header.Set("Content-Encoding", "gzip")
	return req, nil
}

func pack(text []byte) []byte {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	_, _ = z.Write(text) // a buffer takes everything
	_ = z.Close()
	return b.Bytes()
}

// response reads an answer.
func response(a Ask, res *http.Response) (Answer, error) {
	if res.StatusCode != http.StatusOK {
		return Answer{}, refused(res)
	}
	if a.Op == OpBlob || a.Op == OpPutBlob {
		r := Answer{Version: Version, Epoch: a.Epoch, Now: a.Now} // a file comes bare: its hash tells all
		var err error
		if r.Data, err = io.ReadAll(io.LimitReader(res.Body, store.MaxBlob+1)); err != nil {
			return Answer{}, fault.Wrap(err, fault.Unavailable, "Try again.", "the answer was cut")
		}
		return r, nil
	}
	return DecodeAnswer(io.LimitReader(res.Body, mostUnpacked))
}

// refused reads why the server did not answer.
func refused(res *http.Response) error {
	var p problem
	b, err := io.ReadAll(io.LimitReader(res.Body, 64<<10))
	if err == nil {
		err = json.Unmarshal(b, &p)
	}
	switch {
	case err == nil && p.Wipe:
		return fault.Wrap(fmt.Errorf("%w: %w", ErrEnded, ErrWipe), fault.Conflict, "", "this phone's access has ended")
	case err == nil && p.Ended:
		return fault.Wrap(ErrEnded, fault.Conflict, "Pair the phone again. Recording goes on meanwhile.", "this phone's access has ended")
	case err == nil && p.Error.Code != "":
		return &fault.Error{Code: p.Error.Code, Message: p.Error.Message, Hint: p.Error.Hint}
	}
	return fault.New(fault.Unavailable, "Check the server's address, and try again.", "what answers there is not an Icehand server that can be used (status %d)", res.StatusCode)
}

// Phone is who asks.
type Phone struct {
	Name string
}

// Keys knows the phones by their tokens.
type Keys interface {
	// Phone gives the phone of a token. An error that is ErrEnded or ErrWipe refuses one that was known; another error is
	// answered as a fault.
	Phone(ctx context.Context, token string) (Phone, error)
}

// Handler answers under [Path]. It asks keys who is there before it reads anything.
func (s *Server) Handler(keys Keys) http.Handler {
	mux := http.NewServeMux()
	for _, op := range []Op{OpDigest, OpPush, OpPull, OpLack, OpTexts, OpFetch} {
		mux.Handle("POST "+Path+string(op), s.guarded(keys, func(w http.ResponseWriter, r *http.Request) (Ask, error) {
			body, err := unpacked(w, r)
			if err != nil {
				return Ask{}, err
			}
			return DecodeAsk(op, body)
		}))
	}
	named := func(r *http.Request) (h journal.Hash, err error) {
		if err = h.UnmarshalText([]byte(r.PathValue("hash"))); err != nil {
			err = fault.Wrap(err, fault.BadInput, "", "that is not the name of a file")
		}
		return h, err
	}
	mux.Handle("GET "+Path+"blob/{hash}", s.guarded(keys, func(_ http.ResponseWriter, r *http.Request) (Ask, error) {
		h, err := named(r)
		return Ask{Op: OpBlob, Names: []journal.Hash{h}}, err
	}))
	mux.Handle("PUT "+Path+"blob/{hash}", s.guarded(keys, func(w http.ResponseWriter, r *http.Request) (Ask, error) {
		h, err := named(r)
		if err != nil {
			return Ask{}, err
		}
		data, err := io.ReadAll(http.MaxBytesReader(w, r.Body, store.MaxBlob))
		if err != nil {
			return Ask{}, cut(err)
		}
		return Ask{Op: OpPutBlob, Names: []journal.Hash{h}, Data: data}, nil
	}))
	return mux
}

// cut explains a body that could not be read to its end.
func cut(err error) error {
	if most := (*http.MaxBytesError)(nil); errors.As(err, &most) {
		return fault.Wrap(err, fault.BadInput, "Send less at once.", "the message has more than %d bytes", most.Limit)
	}
	return fault.Wrap(err, fault.BadInput, cutHint, "the message was cut")
}

// unpacked gives the body of a request, bounded as sent and as unpacked.
func unpacked(w http.ResponseWriter, r *http.Request) (io.Reader, error) {
	body := io.Reader(http.MaxBytesReader(w, r.Body, mostPacked))
	switch enc := r.Header.Get("Content-Encoding"); enc {
	case "", "identity":
	case "gzip":
		z, err := gzip.NewReader(body)
		if err != nil {
			return nil, cut(err)
		}
		body = z
	default:
		return nil, fault.New(fault.BadInput, "Send gzip.", "the encoding %q is not read here", enc)
	}
	return &bounded{r: body, left: mostUnpacked}, nil
}

// bounded ends with an error after so many bytes.
type bounded struct {
	r    io.Reader
	left int
}

func (b *bounded) Read(p []byte) (int, error) {
	if b.left <= 0 {
		return 0, fault.New(fault.BadInput, "Send less at once.", "the message has more than %d bytes unpacked", mostUnpacked)
	}
	n, err := b.r.Read(p[:min(len(p), b.left)])
	b.left -= n
	return n, err
}

// guarded answers one kind of question to those who may ask.
func (s *Server) guarded(keys Keys, read func(http.ResponseWriter, *http.Request) (Ask, error)) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		ctx, cancel := context.WithTimeout(r.Context(), mostTime)
		defer cancel()
		w.Header().Set("Cache-Control", "no-store")
		token, bearer := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
		if !bearer || token == "" {
			w.Header().Set("WWW-Authenticate", "Bearer")
			refuse(w, http.StatusUnauthorized, problemOf(fault.New(fault.Conflict, "Pair the phone: icehand phone add NAME.", "this server does not know who asks")))
			return
		}
		phone, err := keys.Phone(ctx, token)
		switch {
		case errors.Is(err, ErrEnded):
			p := problemOf(fault.New(fault.Conflict, "", "this phone's access has ended"))
			p.Ended, p.Wipe = true, errors.Is(err, ErrWipe)
			refuse(w, http.StatusForbidden, p)
			return
		case err != nil:
			status := statuses[fault.CodeOf(err)]
			if fault.CodeOf(err) == fault.NotFound {
				status = http.StatusUnauthorized
			}
			refuse(w, status, problemOf(err))
			return
		}
		a, err := read(w, r)
		if err == nil {
			var out Answer
			if out, err = s.Answer(ctx, a); err == nil {
				s.heard(phone.Name, a)
				err = write(w, r, a.Op, out)
			}
		}
		if err != nil {
			refuse(w, statuses[fault.CodeOf(err)], problemOf(err))
		}
	})
}

func problemOf(err error) problem {
	var p problem
	f := fault.Public(err)
	p.Error.Code, p.Error.Message, p.Error.Hint = f.Code, f.Message, f.Hint
	return p
}

func refuse(w http.ResponseWriter, status int, p problem) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(p) // whoever hung up needs no answer
}

// write sends an answer. It is made whole before anything is sent.
func write(w http.ResponseWriter, r *http.Request, op Op, out Answer) error {
	if op == OpBlob || op == OpPutBlob {
		w.Header().Set("Content-Type", "application/octet-stream")
		_, _ = w.Write(out.Data) // as above
		return nil
	}
	text, err := out.Encode()
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/x-ndjson")
	if strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") && len(text) > 1<<10 {
		text = pack(text)
		w.Header().Set("Content-Encoding", "gzip")
	}
	_, _ = w.Write(text)
	return nil
}
