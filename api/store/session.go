package store

import (
	"context"
	"time"
)

// SessionStore keeps signed-in sessions in the database, where several instances of
// the program share them. It has the methods the session library asks for. Tokens
// arrive hashed.
//
// Sessions live by the wall clock, which in a demo is not the shop's.
type SessionStore struct {
	s   *Store
	now func() time.Time
}

// Sessions is the store of sessions, by the given wall clock.
func (s *Store) Sessions(now func() time.Time) *SessionStore { return &SessionStore{s, now} }

// FindCtx returns a session's data; expired ones are not found.
func (ss *SessionStore) FindCtx(ctx context.Context, token string) ([]byte, bool, error) {
	var rows []struct{ Data []byte }
	err := ss.s.read(ctx).Raw("SELECT data FROM sessions WHERE token = ? AND expiry > ?", token, ss.now().Unix()).Scan(&rows).Error
	if err != nil || len(rows) == 0 {
		return nil, false, err
	}
	return rows[0].Data, true, nil
}

// CommitCtx saves a session and, since people sign in seldom, sweeps out expired ones.
func (ss *SessionStore) CommitCtx(ctx context.Context, token string, data []byte, expiry time.Time) error {
	return ss.s.tx(ctx, func(t tx) error {
		if err := t.Exec("DELETE FROM sessions WHERE expiry <= ?", ss.now().Unix()).Error; err != nil {
			return err
		}
		return t.Exec("INSERT INTO sessions (token, data, expiry) VALUES (?, ?, ?) ON CONFLICT (token) DO UPDATE SET data = excluded.data, expiry = excluded.expiry",
			token, data, expiry.Unix()).Error
	})
}

// DeleteCtx ends a session.
func (ss *SessionStore) DeleteCtx(ctx context.Context, token string) error {
	return ss.s.tx(ctx, func(t tx) error {
		return t.Exec("DELETE FROM sessions WHERE token = ?", token).Error
	})
}

// Find is FindCtx for callers without a context.
func (ss *SessionStore) Find(token string) ([]byte, bool, error) {
	return ss.FindCtx(context.Background(), token)
}

// Commit is CommitCtx for callers without a context.
func (ss *SessionStore) Commit(token string, data []byte, expiry time.Time) error {
	return ss.CommitCtx(context.Background(), token, data, expiry)
}

// Delete is DeleteCtx for callers without a context.
func (ss *SessionStore) Delete(token string) error { return ss.DeleteCtx(context.Background(), token) }
