package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/cmd/flitchbook/story"
	"flitchbook/planner/unit"
)

var besides sync.Map // names of the tests that run beside one another

// storyAt serves the invented shop at a moment of its story. Stories wait for the disk
// more than they reckon, so they run beside one another. The way to the moment is played
// once for all of them, on SQLite; on PostgreSQL the records of the moment are read in.
// That the whole story can be played on either is TestWholeStory's to show.
func storyAt(t *testing.T, database, moment string, more ...option) *house {
	t.Helper()
	if _, already := besides.LoadOrStore(t.Name(), true); !already {
		t.Parallel()
	}
	at, err := time.ParseInLocation("2006-01-02 15:04", moment, chicago)
	if err != nil {
		t.Fatal(err)
	}
	sp, err := spots.at(unit.InstantOf(at))
	if err != nil {
		t.Fatal(err)
	}
	if database == "" {
		file := filepath.Join(t.TempDir(), "shop.db")
		if err := store.Backup(context.Background(), sp.file, file); err != nil {
			t.Fatal(err)
		}
		database = "sqlite:" + file
	} else if err := readInto(t.TempDir(), database, sp); err != nil {
		t.Fatal(err)
	}
	h := serveHouse(t, database, sp.moment, func(st *store.Store) error { return nil }, defaults(), nil, more...)
	h.goOn, err = story.Resume(&story.Player{Store: h.Store, Clock: h.Clock, Strict: true,
		Send: func(context.Context, shop.Notice, shop.Facts) error { return nil }}, sp.story)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// later plays the story on to a moment.
func (h *house) later(t *testing.T, moment string) {
	t.Helper()
	at, err := time.ParseInLocation("2006-01-02 15:04", moment, h.Loc)
	if err == nil {
		err = h.goOn.To(t.Context(), unit.InstantOf(at))
	}
	if err != nil {
		t.Fatal(err)
	}
}

// chicago is the invented shop's zone.
var chicago = func() *time.Location {
	loc, err := time.LoadLocation("America/Chicago")
	if err != nil {
		panic(err)
	}
	return loc
}()

// A spot is the shop at a moment of its story.
type spot struct {
	moment  unit.Instant
	file    string // SQLite
	archive []byte // the same records, for PostgreSQL
	story   story.Saved
}

// album keeps the spots that tests have asked for, and one a week between them, so that
// no way is played twice.
type album struct {
	mu    sync.Mutex
	dir   string
	spots []*spot
}

var spots album

const week = 7 * 24 * time.Hour

func (a *album) at(moment unit.Instant) (*spot, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.dir == "" {
		dir, err := os.MkdirTemp("", "flitchbook-story-")
		if err != nil {
			return nil, err
		}
		a.dir = dir
	}
	var from *spot
	for _, s := range a.spots {
		if s.moment <= moment && (from == nil || s.moment > from.moment) {
			from = s
		}
	}
	for from == nil || from.moment < moment {
		to := moment
		if from != nil {
			to = min(moment, from.moment.Add(week))
		}
		s, err := a.play(from, to)
		if err != nil {
			return nil, err
		}
		a.spots = append(a.spots, s)
		from = s
	}
	return from, nil
}

// play goes on from a spot (none: a shop just furnished) to a moment and keeps it; from
// nothing it stops at the story's first.
func (a *album) play(from *spot, to unit.Instant) (sp *spot, err error) {
	ctx := context.Background()
	clock := &storetest.Clock{}
	working := filepath.Join(a.dir, fmt.Sprintf("working-%d.db", len(a.spots)))
	if from != nil {
		if err := store.Backup(ctx, from.file, working); err != nil {
			return nil, err
		}
		clock.Set(from.moment)
	} else {
		clock.Set(furnishedAt)
	}
	st, err := openTestStore(a.dir, "sqlite:"+working, clock, slog.New(slog.DiscardHandler))
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, st.Close(), os.Remove(working)) }()
	player := &story.Player{Store: st, Clock: clock, Strict: true, Send: func(context.Context, shop.Notice, shop.Facts) error { return nil }}
	if from == nil {
		if err := furnished(st); err != nil {
			return nil, err
		}
		if player, err = story.Begin(player); err != nil {
			return nil, err
		}
		clock.Set(player.First())
		to = player.First()
	} else if player, err = story.Resume(player, from.story); err != nil {
		return nil, err
	}
	if err := player.To(ctx, to); err != nil {
		return nil, err
	}
	sp = &spot{moment: to, file: filepath.Join(a.dir, fmt.Sprintf("spot-%d.db", len(a.spots))), story: player.Save()}
	if err := store.Backup(ctx, working, sp.file); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := st.TakeOut(ctx, &b); err != nil {
		return nil, err
	}
	sp.archive = b.Bytes()
	return sp, nil
}

// clear throws the album away.
func (a *album) clear() {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.dir != "" {
		os.RemoveAll(a.dir)
	}
}

// readInto puts the records of a spot into an empty database.
func readInto(dir, database string, sp *spot) error {
	clock := &storetest.Clock{}
	clock.Set(sp.moment)
	st, err := openTestStore(dir, database, clock, slog.New(slog.DiscardHandler))
	if err != nil {
		return err
	}
	_, err = st.TakeIn(context.Background(), bytes.NewReader(sp.archive), int64(len(sp.archive)))
	return errors.Join(err, st.Close())
}
