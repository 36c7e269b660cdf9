package safety_test

import (
	"context"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/engine/advise"
	"icehand/internal/engine/safety"
	"icehand/internal/host/desk"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/store"
	"icehand/internal/sim"
)

func TestZZDemo(t *testing.T) {
	ctx := context.Background()
	d, err := sim.NewDemo(1)
	if err != nil {
		t.Fatal(err)
	}
	s := mem.New(store.Identity{Outfit: uuid.New(), Account: uuid.New(), Journal: uuid.New()})
	if err := d.Fill(ctx, s); err != nil {
		t.Fatal(err)
	}
	here := d.Lake.Frame.Local(d.Scout)
	k, err := desk.Open(ctx, s, desk.Options{Clock: func() time.Time { return d.Now }, Position: func(time.Time) advise.Place { return advise.Place{At: here, Known: true} }})
	if err != nil {
		t.Fatal(err)
	}
	b, err := k.TurnBack(ctx)
	t.Log(err, b.At, b.Binding.Text)
	for _, x := range b.All {
		t.Logf("%s start %s when %s travel %v  %s", x.Code, x.Start.Format("15:04"), x.When.Format("15:04"), x.Travel, x.Text)
	}
	t.Log(b.Unknown, b.Way)
	a, err := k.Ice(ctx, nil, safety.Load{Class: "group"})
	t.Logf("%v %+v", err, a)
	t0 := time.Now()
	st, err := k.Next(ctx, nil)
	t.Log(time.Since(t0), err, st.Do, st.To, st.Ice.Label, st.Ice.Barred, st.Ice.Reasons)
	_ = here
}
