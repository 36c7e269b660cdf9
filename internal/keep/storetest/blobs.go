package storetest

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"icehand/internal/base/fault"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

func blobs(t *testing.T, f Fresh) {
	ctx := t.Context()
	var want []journal.Hash
	for _, data := range [][]byte{{}, []byte("a"), {0, 255, 0}, bytes.Repeat([]byte("chart "), 200_000)} {
		for range 2 { // storing twice is no error
			h, err := f.Store.PutBlob(ctx, data)
			if err != nil || h != journal.Sum(data) {
				t.Errorf("%d bytes: %v, %v", len(data), h, err)
			}
		}
		got, err := f.Store.Blob(ctx, journal.Sum(data))
		if err != nil || !bytes.Equal(got, data) {
			t.Errorf("%d bytes came back as %d, %v", len(data), len(got), err)
		}
		want = append(want, journal.Sum(data))
	}
	if _, err := f.Store.Blob(ctx, journal.Sum([]byte("b"))); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("an absent blob: %v", err)
	}
	if _, err := f.Store.PutBlob(ctx, make([]byte, store.MaxBlob+1)); fault.CodeOf(err) != fault.BadInput {
		t.Errorf("a blob over the limit: %v", err)
	}
	var got []journal.Hash
	if err := f.Store.Blobs(ctx, func(h journal.Hash) error { got = append(got, h); return nil }); err != nil {
		t.Error(err)
	}
	for i := range got {
		if i > 0 && store.CompareHash(got[i-1], got[i]) >= 0 {
			t.Error("blobs are not listed in order of hash")
		}
	}
	if len(got) != len(want) {
		t.Errorf("%d blobs listed, want %d", len(got), len(want))
	}
}

func texts(t *testing.T, f Fresh) {
	ctx := t.Context()
	names := map[journal.Text]string{}
	for _, text := range []string{"Ola", "Ola", "\u00e9", "e\u0301", "ola", "", " Ola ", "line\nbreak", "雪"} {
		name, err := f.Store.PutText(ctx, text)
		if err != nil {
			t.Fatal(err)
		}
		if _, ok := names[name]; ok {
			t.Errorf("%q got a name that is taken: a hash must tell nothing of the text", text)
		}
		names[name] = text
	}
	for name, text := range names {
		if got, err := f.Store.Text(ctx, name); err != nil || got != text {
			t.Errorf("%q came back as %q, %v", text, got, err)
		}
	}
	for _, bad := range []string{"a\x00b", "a\xffb", strings.Repeat("a", store.MaxText+1)} {
		if _, err := f.Store.PutText(ctx, bad); fault.CodeOf(err) != fault.BadInput {
			t.Errorf("%.10q: %v", bad, err)
		}
	}
	textsAtOnce(t, f, names)
	// a text can be forgotten and the chain stays whole
	var gone journal.Text
	for gone = range names {
		break
	}
	note := Author.Draft(journal.NewID(), T0, T0, &journal.Note{Text: gone})
	Append(t, f.Store, []journal.Draft{note})
	for range 2 { // erasing what is not there is no error
		if err := f.Store.EraseText(ctx, gone); err != nil {
			t.Error(err)
		}
	}
	if got, err := f.Store.Text(ctx, gone); !errors.Is(err, store.ErrNotFound) || got != "" {
		t.Errorf("an erased text came back as %q, %v", got, err)
	}
	left := 0
	err := f.Store.Texts(ctx, func(s store.Salted) error {
		if left++; names[s.Name()] != s.Text || s.Name() == gone {
			t.Errorf("listed %q under the name of %q", s.Text, names[s.Name()])
		}
		return nil
	})
	if err != nil || left != len(names)-1 {
		t.Errorf("%d texts listed, %v", left, err)
	}
	Sound(t, f.Store, 1)
}

// textsAtOnce stores many texts in one call, and none of a call that holds a bad one. It adds the names.
func textsAtOnce(t *testing.T, f Fresh, names map[journal.Text]string) {
	t.Helper()
	ctx := t.Context()
	many := []string{"deep", "deep", "", "slush by noon"}
	got, err := f.Store.PutTexts(ctx, many)
	if err != nil || len(got) != len(many) {
		t.Fatalf("%d names of %d texts, %v", len(got), len(many), err)
	}
	for i, name := range got {
		if text, err := f.Store.Text(ctx, name); err != nil || text != many[i] {
			t.Errorf("%q came back as %q, %v", many[i], text, err)
		}
		if _, ok := names[name]; ok {
			t.Errorf("%q got a name that is taken", many[i])
		}
		names[name] = many[i]
	}
	if _, err := f.Store.PutTexts(ctx, []string{"good", "a\x00b"}); fault.CodeOf(err) != fault.BadInput {
		t.Errorf("a bad text among others: %v", err)
	}
	if got, err := f.Store.PutTexts(ctx, nil); err != nil || len(got) != 0 {
		t.Errorf("no texts: %d names, %v", len(got), err)
	}
	err = f.Store.Texts(ctx, func(s store.Salted) error {
		if _, ok := names[s.Name()]; !ok {
			t.Errorf("%q of a call that failed was stored", s.Text)
		}
		return nil
	})
	if err != nil {
		t.Error(err)
	}
}

func movedTexts(t *testing.T, f Fresh) {
	s := store.Salt("Kari")
	for range 2 {
		name, err := f.Store.PutSalted(t.Context(), s)
		if err != nil || name != s.Name() {
			t.Errorf("%v, %v", name, err)
		}
	}
	if got, err := f.Store.Text(t.Context(), s.Name()); got != "Kari" {
		t.Error(got, err)
	}
	a, err := f.Store.Verify(t.Context())
	if err != nil || a.Texts != 1 {
		t.Errorf("%+v, %v", a, err)
	}
}

func verifyFindsDamage(t *testing.T, f Fresh) {
	ctx := t.Context()
	es := Append(t, f.Store, Drafts(10))
	blob, err := f.Store.PutBlob(ctx, []byte("a chart"))
	if err != nil {
		t.Fatal(err)
	}
	Sound(t, f.Store, 10)
	f.FlipBody(t, 4)
	f.FlipBlob(t, blob)
	a, err := f.Store.Verify(ctx)
	if err != nil {
		t.Fatal(err)
	}
	all := ""
	for _, d := range a.Damage {
		all += d.Where + ": " + d.What + "\n"
	}
	if len(a.Damage) != 2 || !strings.Contains(all, "entry 4 of journal "+es[3].Journal.String()) || !strings.Contains(all, blob.String()) {
		t.Errorf("the audit says:\n%s", all)
	}
	read := 0
	err = f.Store.Read(ctx, 0, func(store.Position, *journal.Entry) error { read++; return nil })
	if fault.CodeOf(err) != fault.Damaged || read != 3 {
		t.Errorf("read %d entries, then %v: damaged entries must not be handed out", read, err)
	}
	if got := ReadAll(t, f.Store, 4); len(got) != 6 {
		t.Errorf("%d good entries after the damage", len(got))
	}
	if _, err := f.Store.Blob(ctx, blob); fault.CodeOf(err) != fault.Damaged {
		t.Errorf("a damaged blob: %v", err)
	}
}
