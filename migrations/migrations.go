// Package migrations holds the database's shape, one folder per dialect with the
// same numbers and names in both. A file that has shipped never changes.
package migrations

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"

	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"
)

//go:embed sqlite/*.sql postgres/*.sql
var files embed.FS

// Dialects are the databases the shop can live on; each is the name of a folder.
var dialects = map[string]goose.Dialect{
	"sqlite":   goose.DialectSQLite3,
	"postgres": goose.DialectPostgres,
}

func provider(db *sql.DB, dialect string) (*goose.Provider, error) {
	d, ok := dialects[dialect]
	if !ok {
		return nil, fmt.Errorf("migrations: no dialect %q", dialect)
	}
	sub, err := fs.Sub(files, dialect)
	if err != nil {
		return nil, err
	}
	opts := []goose.ProviderOption{goose.WithDisableGlobalRegistry(true)}
	if dialect == "postgres" {
		// Several instances may start at once on one database: each asks once a second
		// for its turn, for five minutes.
		locker, err := lock.NewPostgresSessionLocker(lock.WithLockTimeout(1, 300))
		if err != nil {
			return nil, err
		}
		opts = append(opts, goose.WithSessionLocker(locker))
	}
	return goose.NewProvider(d, db, sub, opts...)
}

// Up brings the database to the newest shape. A database newer than the program is
// refused, since an older program would write what a newer one no longer expects.
func Up(ctx context.Context, db *sql.DB, dialect string) error {
	p, err := provider(db, dialect)
	if err != nil {
		return err
	}
	now, err := p.GetDBVersion(ctx)
	if err != nil {
		return fmt.Errorf("read the database's version: %w", err)
	}
	sources := p.ListSources()
	newest := sources[len(sources)-1].Version
	if now > newest {
		return fmt.Errorf("the database is at version %d, this program knows up to %d: use a newer program", now, newest)
	}
	if _, err := p.Up(ctx); err != nil {
		return fmt.Errorf("bring the database up to date: %w", err)
	}
	return nil
}

// Down takes the newest change back. It is for tests and for the careful.
func Down(ctx context.Context, db *sql.DB, dialect string) error {
	p, err := provider(db, dialect)
	if err != nil {
		return err
	}
	_, err = p.Down(ctx)
	return err
}

// Version is the shape the database has now.
func Version(ctx context.Context, db *sql.DB, dialect string) (int64, error) {
	p, err := provider(db, dialect)
	if err != nil {
		return 0, err
	}
	return p.GetDBVersion(ctx)
}

// Sum names the shape that a dialect's files make: other files, another sum.
func Sum(dialect string) (string, error) {
	names, err := fs.Glob(files, dialect+"/*.sql")
	if err != nil || len(names) == 0 {
		return "", errors.Join(err, fmt.Errorf("no files for the dialect %q", dialect))
	}
	sum := sha256.New()
	for _, n := range names {
		b, err := files.ReadFile(n)
		if err != nil {
			return "", err
		}
		sum.Write(b)
	}
	return fmt.Sprintf("%x", sum.Sum(nil)), nil
}
