package store

import (
	"context"
	"database/sql"
	"strconv"
	"sync"
)

// A watch is the one SQLite connection on which data_version is read: its numbers mean
// something only beside each other.
type watch struct {
	mu   sync.Mutex
	conn *sql.Conn
}

// Snapshot names the records as they can be read now. Whoever reads after asking, and
// later gets the same name again, knows that nothing was committed in between, by this
// process or another. It costs one short question.
//
// SQLite counts commits of other connections (PRAGMA data_version); PostgreSQL names
// the transactions that are over and those under way (pg_current_snapshot).
func (s *Store) Snapshot(ctx context.Context) (string, error) {
	if s.dialect == "postgres" {
		var name string
		err := s.read(ctx).Raw("SELECT CAST(pg_current_snapshot() AS text)").Scan(&name).Error
		return name, err
	}
	s.watch.mu.Lock()
	defer s.watch.mu.Unlock()
	if s.watch.conn == nil {
		db, err := s.reads.DB()
		if err != nil {
			return "", err
		}
		if s.watch.conn, err = db.Conn(context.WithoutCancel(ctx)); err != nil {
			s.watch.conn = nil
			return "", err
		}
	}
	var n int64
	if err := s.watch.conn.QueryRowContext(ctx, "PRAGMA data_version").Scan(&n); err != nil {
		return "", err
	}
	return strconv.FormatInt(n, 10), nil
}

func (w *watch) close() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.conn == nil {
		return nil
	}
	return w.conn.Close()
}
