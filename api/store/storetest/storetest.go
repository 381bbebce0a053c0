// Package storetest opens a real store for tests: SQLite in a temporary folder, and
// PostgreSQL in a database of its own when TEST_POSTGRES names a server. There is no
// stand-in for the store.
package storetest

import (
	"context"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
	"flitchbook/testdata/scenario"
)

// Clock is a clock that moves only when told.
type Clock struct{ at atomic.Int64 }

// Now is the time it shows.
func (c *Clock) Now() time.Time { return time.Unix(c.at.Load(), 0).UTC() }

// Set moves it.
func (c *Clock) Set(at unit.Instant) { c.at.Store(int64(at)) }

// Add moves it forward.
func (c *Clock) Add(d time.Duration) { c.at.Add(int64(d / time.Second)) }

// A House is a furnished demo shop on a fresh database.
type House struct {
	*store.Store
	Clock *Clock
	Ctx   context.Context
	URL   string // of its database

	Broken bool // the test broke the records of money itself: they are not checked when it ends
}

// At is an instant on the demo shop's clocks, from "2026-10-08 15:30".
func (h *House) At(s string) unit.Instant {
	t, err := time.ParseInLocation("2006-01-02 15:04", s, h.Loc)
	if err != nil {
		panic(err)
	}
	return unit.InstantOf(t)
}

// Go sets the clock to a moment of the shop.
func (h *House) Go(s string) { h.Clock.Set(h.At(s)) }

// Odile is the demo shop's owner.
var Odile = shop.Actor{Kind: "staff", ID: 1, Name: "Odile", Role: shop.Owner}

// Tobias is its butcher.
var Tobias = shop.Actor{Kind: "staff", ID: 2, Name: "Tobias", Role: shop.Staff}

// Nadia stands at its counter.
var Nadia = shop.Actor{Kind: "staff", ID: 3, Name: "Nadia", Role: shop.Staff}

// Each runs a test on SQLite and, when TEST_POSTGRES is set, on PostgreSQL. In CI it
// must be set: nothing is skipped there.
func Each(t *testing.T, test func(t *testing.T, h *House)) {
	t.Helper()
	t.Run("sqlite", func(t *testing.T) { test(t, Open(t, "sqlite:"+filepath.Join(t.TempDir(), "shop.db"))) })
	t.Run("postgres", func(t *testing.T) { test(t, Open(t, PostgresURL(t))) })
}

// SQLite opens a furnished demo shop on SQLite.
func SQLite(t testing.TB) *House {
	t.Helper()
	return Open(t, "sqlite:"+filepath.Join(t.TempDir(), "shop.db"))
}

// Open opens a furnished demo shop on a database, at Mon Aug 3 2026, 09:00.
func Open(t testing.TB, url string) *House {
	t.Helper()
	h := Bare(t, url)
	if err := h.Furnish(h.Ctx, Odile, scenario.Shop()); err != nil {
		t.Fatal(err)
	}
	return h
}

// Bare opens an empty shop.
func Bare(t testing.TB, url string) *House {
	t.Helper()
	h := &House{Clock: &Clock{}, Ctx: context.Background(), URL: url}
	h.Clock.Set(unit.InstantOf(time.Date(2026, 8, 3, 14, 0, 0, 0, time.UTC)))
	var nonce atomic.Int64
	s, err := store.Open(h.Ctx, store.Config{
		URL: url, BaseURL: "https://corbel.example.test", Domain: "corbel.example.test", Shop: "Corbel Street Butchery", Mail: "odile@corbel.example.test",
		Secret: []byte("a secret for tests alone"), Now: h.Clock.Now,
		Rand: func() int64 { return nonce.Add(1) },
	})
	if err != nil {
		t.Fatal(err)
	}
	h.Store = s
	t.Cleanup(func() {
		if !h.Broken && !t.Failed() {
			h.sound(t)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return h
}

// sound holds what a test leaves behind against what must always be true of money.
func (h *House) sound(t testing.TB) {
	found, err := h.CheckMoney(h.Ctx)
	if err != nil {
		t.Errorf("checking what the test left: %v", err)
	}
	for _, f := range found {
		for _, l := range f.Broken {
			t.Errorf("not sound when the test had ended: %s: %s", f.Rule, l)
		}
	}
}
