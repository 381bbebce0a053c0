package store

import (
	"context"
	"errors"
	"sync/atomic"

	"gorm.io/gorm"
)

// A Case is a use case's transaction, for the tests of the writer.
type Case struct{ tx }

// Run runs a use case.
func (s *Store) Run(ctx context.Context, fn func(Case) error) error {
	return s.tx(ctx, func(t tx) error { return fn(Case{t}) })
}

// Last is what a use case asks for with beforeCommit.
func (c Case) Last(name string, f func(Case) error) {
	c.beforeCommit(name, func(t tx) error { return f(Case{t}) })
}

// After is onCommit.
func (c Case) After(f func()) { c.onCommit(f) }

// Waiting is how many use cases wait for the writer; 0 on PostgreSQL, which has none.
func (s *Store) Waiting() int {
	if s.writer == nil {
		return 0
	}
	return len(s.writer.queue)
}

// errBroken is the statement that Break makes fail.
var errBroken = errors.New("the disk is full")

// IsBroken says whether an error comes of it.
func IsBroken(err error) bool { return errors.Is(err, errBroken) }

// CanBreak lets statements of use cases fail: the nth one inside a transaction after Break(n).
// Break returns whether it came to that.
func (s *Store) CanBreak() (breakAt func(n int) (fired func() bool), err error) {
	var left atomic.Int64
	var did atomic.Bool
	count := func(db *gorm.DB) {
		if _, in := db.Statement.ConnPool.(gorm.TxCommitter); in && left.Add(-1) == 0 {
			did.Store(true)
			_ = db.AddError(errBroken)
		}
	}
	c := s.write.Callback()
	err = errors.Join(c.Create().Before("*").Register("test:break", count), c.Update().Before("*").Register("test:break", count), c.Delete().Before("*").Register("test:break", count),
		c.Query().Before("*").Register("test:break", count), c.Raw().Before("*").Register("test:break", count), c.Row().Before("*").Register("test:break", count))
	return func(n int) func() bool {
		did.Store(false)
		left.Store(int64(n))
		return func() bool { left.Store(0); return did.Load() }
	}, err
}
