package store

import "context"

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
