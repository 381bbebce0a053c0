package store_test

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
)

// eachBare is an empty shop on each database.
func eachBare(t *testing.T, test func(t *testing.T, h *storetest.House)) {
	t.Run("sqlite", func(t *testing.T) {
		test(t, storetest.Bare(t, "sqlite:"+filepath.Join(t.TempDir(), "shop.db")))
	})
	t.Run("postgres", func(t *testing.T) { test(t, storetest.Bare(t, storetest.PostgresSchema(t))) })
}

func put(c store.Case, name string) error {
	return c.Exec("INSERT INTO settings (name, value) VALUES (?, 'x')", name).Error
}

// seen says what another connection sees of a row.
func seen(t *testing.T, db *gorm.DB, name string) bool {
	t.Helper()
	var n int
	if err := db.Raw("SELECT count(*) FROM settings WHERE name = ?", name).Scan(&n).Error; err != nil {
		t.Error(err)
	}
	return n == 1
}

// gate holds SQLite's writer until it is opened, so that what comes meanwhile is
// gathered into one commit.
func gate(t *testing.T, h *storetest.House) (open func()) {
	t.Helper()
	if h.Dialect() != "sqlite" {
		return func() {}
	}
	in, out, done := make(chan struct{}), make(chan struct{}), make(chan error, 1)
	go func() {
		done <- h.Run(h.Ctx, func(store.Case) error { close(in); <-out; return nil })
	}()
	<-in
	return func() {
		close(out)
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
}

func untilWaiting(h *storetest.House, n int) {
	for h.Dialect() == "sqlite" && h.Waiting() < n {
		runtime.Gosched()
	}
}

var errNo = errors.New("no")

// endings a use case may have; all but the first have written before.
var endings = []struct {
	name  string
	end   func(store.Case) error
	wrong func(error) bool
}{
	{"well", func(store.Case) error { return nil }, func(err error) bool { return err != nil }},
	{"refused", func(store.Case) error { return shop.ErrClassFull }, func(err error) bool { return !errors.Is(err, shop.ErrClassFull) }},
	{"well too", func(store.Case) error { return nil }, func(err error) bool { return err != nil }},
	{"panic", func(store.Case) error { panic("oh dear") }, func(err error) bool { return err == nil || !strings.Contains(err.Error(), "oh dear") }},
	{"still well", func(store.Case) error { return nil }, func(err error) bool { return err != nil }},
	{"broken rule", func(c store.Case) error { return put(c, "the same twice") }, func(err error) bool { return !errors.Is(err, gorm.ErrDuplicatedKey) }},
	{"well again", func(store.Case) error { return nil }, func(err error) bool { return err != nil }},
	{"at the end", func(c store.Case) error { c.Last("end", func(store.Case) error { return errNo }); return nil }, func(err error) bool { return !errors.Is(err, errNo) }},
}

func TestOneThatFailsTakesNothingOfTheOthers(t *testing.T) {
	eachBare(t, func(t *testing.T, h *storetest.House) {
		if err := h.Run(h.Ctx, func(c store.Case) error { return put(c, "the same twice") }); err != nil {
			t.Fatal(err)
		}
		other := behind(t, h)
		const n = 200
		var after [n]atomic.Int32
		open := gate(t, h)
		var all sync.WaitGroup
		for i := range n {
			all.Go(func() {
				way, name := endings[i%len(endings)], fmt.Sprint("row ", i)
				err := h.Run(h.Ctx, func(c store.Case) error {
					c.After(func() { after[i].Add(1) })
					if err := put(c, name); err != nil {
						return err
					}
					return way.end(c)
				})
				if way.wrong(err) {
					t.Errorf("%s answered %v", way.name, err)
				}
				// Whoever is answered finds what was promised, from anywhere.
				if got := seen(t, other, name); got != (err == nil) {
					t.Errorf("%s answered %v, its row is there: %v", way.name, err, got)
				}
				if got := after[i].Load() == 1; got != (err == nil) {
					t.Errorf("%s answered %v, told of the commit: %v", way.name, err, got)
				}
			})
		}
		untilWaiting(h, n)
		open()
		all.Wait()
		if rows, err := store.Get[int](h.Ctx, h.Store, "SELECT count(*) FROM settings"); err != nil || rows != 1+n/2 {
			t.Errorf("%d rows, want %d (%v)", rows, 1+n/2, err)
		}
	})
}

// TestNobodyIsAnsweredBeforeCommit looks on from a second connection while a gathered
// commit is half done.
func TestNobodyIsAnsweredBeforeCommit(t *testing.T) {
	h := storetest.Bare(t, "sqlite:"+filepath.Join(t.TempDir(), "shop.db"))
	other := behind(t, h)
	open := gate(t, h)
	first, second := make(chan error, 1), make(chan error, 1)
	go func() { first <- h.Run(h.Ctx, func(c store.Case) error { return put(c, "first") }) }()
	untilWaiting(h, 1)
	in, out := make(chan bool, 1), make(chan struct{})
	go func() {
		second <- h.Run(h.Ctx, func(c store.Case) error {
			var n int
			err := c.Raw("SELECT count(*) FROM settings WHERE name = 'first'").Scan(&n).Error
			in <- n == 1
			<-out
			return err
		})
	}()
	untilWaiting(h, 2)
	open()
	if !<-in {
		t.Fatal("the two were not gathered: the test shows nothing")
	}
	for range 50 {
		if seen(t, other, "first") {
			t.Error("seen before the commit")
		}
		select {
		case err := <-first:
			t.Fatalf("answered %v before the commit", err)
		default:
			runtime.Gosched()
		}
	}
	close(out)
	if err := errors.Join(<-first, <-second); err != nil || !seen(t, other, "first") {
		t.Errorf("%v, seen after the answer: %v", err, seen(t, other, "first"))
	}
}

func TestWhoGaveUpBeforeTheStartChangesNothing(t *testing.T) {
	eachBare(t, func(t *testing.T, h *storetest.House) {
		ctx, cancel := context.WithCancel(h.Ctx)
		open := gate(t, h)
		answers := make(chan error, 2)
		ran := func(c store.Case) error { t.Error("it was run"); return put(c, "given up") }
		if h.Dialect() == "sqlite" {
			go func() { answers <- h.Run(ctx, ran) }()
			untilWaiting(h, 1)
			cancel() // while it waits for its turn
			go func() { answers <- h.Run(h.Ctx, func(c store.Case) error { return put(c, "patient") }) }()
			untilWaiting(h, 2)
		}
		cancel()
		if err := h.Run(ctx, ran); !errors.Is(err, context.Canceled) {
			t.Errorf("given up before: %v", err)
		}
		open()
		if h.Dialect() == "sqlite" {
			a, b := <-answers, <-answers
			if !errors.Is(errors.Join(a, b), context.Canceled) || a != nil && b != nil {
				t.Errorf("answers %v and %v, want one that was given up", a, b)
			}
			if !seen(t, behind(t, h), "patient") {
				t.Error("the next in the queue was lost")
			}
		}
	})
}

// TestGivenUpOnceBegun: the person who walked away does not undo what is half done.
func TestGivenUpOnceBegun(t *testing.T) {
	eachBare(t, func(t *testing.T, h *storetest.House) {
		ctx, cancel := context.WithCancel(h.Ctx)
		err := h.Run(ctx, func(c store.Case) error { cancel(); return put(c, "begun") })
		if err != nil || !seen(t, behind(t, h), "begun") {
			t.Errorf("begun, then given up: %v", err)
		}
	})
}

func TestCloseLosesNothingAnswered(t *testing.T) {
	eachBare(t, func(t *testing.T, h *storetest.House) {
		s, err := store.Open(h.Ctx, store.Config{URL: h.URL, Secret: []byte("a secret for tests alone"), Now: h.Clock.Now})
		if err != nil {
			t.Fatal(err)
		}
		var answered sync.Map
		var good atomic.Int32
		var all sync.WaitGroup
		enough := make(chan struct{})
		for i := range 32 {
			all.Go(func() {
				for k := 0; ; k++ {
					name := fmt.Sprintf("%d/%d", i, k)
					if err := s.Run(h.Ctx, func(c store.Case) error { return put(c, name) }); err != nil {
						return
					}
					answered.Store(name, true)
					if good.Add(1) == 300 {
						close(enough)
					}
				}
			})
		}
		<-enough
		if err := s.Close(); err != nil {
			t.Error(err)
		}
		all.Wait()
		n := 0
		other := behind(t, h)
		answered.Range(func(name, _ any) bool {
			n++
			if !seen(t, other, name.(string)) {
				t.Errorf("%s was answered and is lost", name)
			}
			return true
		})
		if rows, err := store.Get[int](h.Ctx, h.Store, "SELECT count(*) FROM settings"); err != nil || rows != n {
			t.Errorf("%d rows of %d answered (%v)", rows, n, err)
		}
		if err := s.Run(h.Ctx, func(c store.Case) error { return put(c, "too late") }); err == nil {
			t.Error("a closed store took something")
		}
	})
}

func TestWhatFollowsFromTheEndIsDoneOnce(t *testing.T) {
	eachBare(t, func(t *testing.T, h *storetest.House) {
		var order []string
		err := h.Run(h.Ctx, func(c store.Case) error {
			for range 3 {
				c.Last("b", func(store.Case) error { order = append(order, "b"); return nil })
			}
			c.Last("a", func(c store.Case) error { order = append(order, "a"); return put(c, "from the end") })
			order = append(order, "case")
			c.After(func() { order = append(order, fmt.Sprint("after ", seen(t, behind(t, h), "from the end"))) })
			return nil
		})
		if got := strings.Join(order, ", "); err != nil || got != "case, a, b, after true" {
			t.Errorf("%s (%v)", got, err)
		}
	})
}

// TestWhoMetBeginsAgain: PostgreSQL sends one of two away with 40001 or 40P01
// (postgresql.org/docs, "Serialization Failure Handling"); it begins again from nothing.
func TestWhoMetBeginsAgain(t *testing.T) {
	h := storetest.Bare(t, storetest.PostgresURL(t))
	for code, fails := range map[string]int{"40001": 4, "40P01": 1} {
		tries, told := 0, 0
		err := h.Run(h.Ctx, func(c store.Case) error {
			tries++
			c.After(func() { told++ })
			if err := put(c, code); err != nil {
				return err
			}
			if tries <= fails {
				return c.Exec(fmt.Sprintf("DO $$ BEGIN RAISE EXCEPTION USING ERRCODE = '%s'; END $$", code)).Error
			}
			return nil
		})
		if err != nil || tries != fails+1 || told != 1 || !seen(t, behind(t, h), code) {
			t.Errorf("%s: %d tries, told %d times, %v", code, tries, told, err)
		}
	}
	for code, most := range map[string]int{"40001": 5, "23514": 1} {
		tries := 0
		err := h.Run(h.Ctx, func(c store.Case) error {
			tries++
			return c.Exec(fmt.Sprintf("DO $$ BEGIN RAISE EXCEPTION USING ERRCODE = '%s'; END $$", code)).Error
		})
		if err == nil || tries != most {
			t.Errorf("%s for ever: %d tries, %v", code, tries, err)
		}
	}
	// Two that lock the same two rows in opposite order.
	if err := h.Run(h.Ctx, func(c store.Case) error { return errors.Join(put(c, "left"), put(c, "right")) }); err != nil {
		t.Fatal(err)
	}
	var both, all sync.WaitGroup
	both.Add(2)
	var tries atomic.Int32
	for _, rows := range [][2]string{{"left", "right"}, {"right", "left"}} {
		all.Go(func() {
			first := true
			err := h.Run(h.Ctx, func(c store.Case) error {
				tries.Add(1)
				for i, r := range rows {
					if err := c.Exec("UPDATE settings SET value = value || '+' WHERE name = ?", r).Error; err != nil {
						return err
					}
					if i == 0 && first {
						first = false
						both.Done()
						both.Wait()
					}
				}
				return nil
			})
			if err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	v, err := store.Get[string](h.Ctx, h.Store, "SELECT string_agg(value, ' ') FROM settings WHERE name IN ('left', 'right')")
	if err != nil || v != "x++ x++" || tries.Load() < 3 {
		t.Errorf("%q after %d tries (%v)", v, tries.Load(), err)
	}
}
