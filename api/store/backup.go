package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
)

// Backup copies a SQLite database to a new file while others use it, and reads the
// copy through once. It never writes over a file. A copy that is not whole is removed.
func Backup(ctx context.Context, from, to string) (err error) {
	if _, err := os.Stat(from); err != nil {
		return fmt.Errorf("there is no database to copy: %w", err)
	}
	// VACUUM INTO takes an empty file; made here, it is nobody else's to read.
	f, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fmt.Errorf("make the copy: %w", err)
	}
	if err := f.Close(); err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(to))
		}
	}()
	if err := onFile(ctx, from, func(db *sql.DB) error {
		_, err := db.ExecContext(ctx, "VACUUM INTO ?", to)
		return err
	}); err != nil {
		return fmt.Errorf("copy the database: %w", err)
	}
	return onFile(ctx, to, func(db *sql.DB) error {
		var said string
		if err := db.QueryRowContext(ctx, "PRAGMA integrity_check").Scan(&said); err != nil {
			return fmt.Errorf("read the copy: %w", err)
		}
		if said != "ok" {
			return fmt.Errorf("the copy is not whole: %s", said)
		}
		return nil
	})
}

func onFile(ctx context.Context, name string, do func(*sql.DB) error) error {
	q := url.Values{"_busy_timeout": {"10000"}, "mode": {"rw"}}
	db, err := sql.Open("sqlite3", "file:"+name+"?"+q.Encode())
	if err != nil {
		return err
	}
	db.SetMaxOpenConns(1)
	return errors.Join(do(db), db.Close())
}
