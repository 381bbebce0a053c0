package store

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"runtime/debug"
	"slices"
	"sync"
	"time"

	"github.com/jackc/pgx/v5/pgconn"
	"gorm.io/gorm"

	"flitchbook/planner/unit"
)

// tx is one use case's transaction: one instant for every row it writes. Inside it
// never touch the store's own handles: with one writer that waits for itself.
type tx struct {
	*gorm.DB
	s     *Store
	now   unit.Instant
	today unit.Day
	after *[]func()
	last  map[string]func(tx) error
}

// beforeCommit runs f once, after the use case and in its transaction. A second call
// with the same name changes nothing: it is for what follows from the end state.
func (t tx) beforeCommit(name string, f func(tx) error) { t.last[name] = f }

// onCommit runs f once the transaction has really been committed.
func (t tx) onCommit(f func()) { *t.after = append(*t.after, f) }

// useCaseTime bounds one use case. It is not the request's own deadline: a statement
// cut short would roll back the colleagues committed with it.
const useCaseTime = 15 * time.Second

// tx runs fn in a transaction and answers only after COMMIT. On SQLite waiting use
// cases are gathered into one commit, each in its own savepoint: one that fails takes
// nothing of the others with it.
func (s *Store) tx(ctx context.Context, fn func(tx) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if s.writer != nil {
		return s.writer.do(ctx, fn)
	}
	var err error
	for range 5 {
		var after []func()
		c, cancel := context.WithTimeout(context.WithoutCancel(ctx), useCaseTime)
		err = s.write.WithContext(c).Transaction(func(g *gorm.DB) error { return guarded(fn, s.newTx(g, &after)) })
		cancel()
		if err == nil {
			for _, f := range after {
				f()
			}
			return nil
		}
		if !tryAgain(err) {
			return err
		}
	}
	return err
}

func (s *Store) newTx(g *gorm.DB, after *[]func()) tx {
	now := s.Now()
	return tx{DB: g, s: s, now: now, today: now.Day(s.Loc), after: after, last: map[string]func(tx) error{}}
}

// tryAgain knows PostgreSQL's words for "two of you met, one must begin again".
func tryAgain(err error) bool {
	var pg *pgconn.PgError
	return errors.As(err, &pg) && (pg.Code == "40001" || pg.Code == "40P01")
}

// guarded turns a panic in a use case into an error, so that the savepoint is undone
// and the writer lives on.
func guarded(fn func(tx) error, t tx) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("use case panicked: %v\n%s", p, debug.Stack())
		}
	}()
	if err := fn(t); err != nil {
		return err
	}
	for _, name := range slices.Sorted(maps.Keys(t.last)) {
		if err := t.last[name](t); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	return nil
}

// mostTogether bounds how many use cases share one commit, and so how long the first
// of them waits for the last.
const mostTogether = 64

type job struct {
	ctx   context.Context
	fn    func(tx) error
	after []func()
	err   error
	done  chan struct{}
}

// writer is the one goroutine that writes to SQLite, first come first served.
type writer struct {
	s     *Store
	queue chan *job
	stop  chan struct{}
	ended chan struct{}
	once  sync.Once
}

func newWriter(s *Store) *writer {
	w := &writer{s: s, queue: make(chan *job, 4*mostTogether), stop: make(chan struct{}), ended: make(chan struct{})}
	go w.run()
	return w
}

var errClosed = errors.New("the store is closed")

func (w *writer) do(ctx context.Context, fn func(tx) error) error {
	j := &job{ctx: ctx, fn: fn, done: make(chan struct{})}
	select {
	case w.queue <- j:
	case <-ctx.Done():
		return ctx.Err()
	case <-w.stop:
		return errClosed
	}
	select {
	case <-j.done:
	case <-w.ended:
		// It may have been finished in the writer's last round.
		select {
		case <-j.done:
		default:
			return errClosed
		}
	}
	return j.err
}

func (w *writer) close() {
	w.once.Do(func() { close(w.stop) })
	<-w.ended
}

func (w *writer) run() {
	defer close(w.ended)
	for {
		select {
		case j := <-w.queue:
			w.commit(w.gather(j))
		case <-w.stop:
			for {
				select {
				case j := <-w.queue:
					w.commit(w.gather(j))
				default:
					return
				}
			}
		}
	}
}

func (w *writer) gather(first *job) []*job {
	batch := []*job{first}
	for len(batch) < mostTogether {
		select {
		case j := <-w.queue:
			batch = append(batch, j)
		default:
			return batch
		}
	}
	return batch
}

// commit runs a batch in one transaction. Nobody is answered before COMMIT.
func (w *writer) commit(batch []*job) {
	c, cancel := context.WithTimeout(context.Background(), useCaseTime)
	defer cancel()
	err := w.s.write.WithContext(c).Transaction(func(g *gorm.DB) error {
		for _, j := range batch {
			if j.err = j.ctx.Err(); j.err != nil {
				continue
			}
			if err := g.Exec("SAVEPOINT one").Error; err != nil {
				return err
			}
			if j.err = guarded(j.fn, w.s.newTx(g.Session(&gorm.Session{NewDB: true, Context: c}), &j.after)); j.err != nil {
				if err := g.Exec("ROLLBACK TO one").Error; err != nil {
					return err
				}
			}
			if err := g.Exec("RELEASE one").Error; err != nil {
				return err
			}
		}
		return nil
	})
	for _, j := range batch {
		if j.err == nil {
			j.err = err
		}
		if j.err == nil {
			for _, f := range j.after {
				f()
			}
		}
		close(j.done)
	}
}
