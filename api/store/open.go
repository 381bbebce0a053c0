package store

import (
	"context"
	"fmt"
	"net/url"
	"strings"
	"time"

	"gorm.io/driver/postgres"
	"gorm.io/driver/sqlite"
	"gorm.io/gorm"
)

func (s *Store) gormConfig() *gorm.Config {
	return &gorm.Config{
		SkipDefaultTransaction: true,
		TranslateError:         true,
		NowFunc:                func() time.Time { return s.now().UTC() },
		Logger:                 newSQLLog(s.log),
	}
}

// uriPath keeps signs in a file's name from being read as parts of SQLite's address of it
// (sqlite.org/uri.html): without it "shop#2.db" would open the file "shop".
var uriPath = strings.NewReplacer("%", "%25", "?", "%3f", "#", "%23")

func (s *Store) openSQLite(ctx context.Context, path string) error {
	s.dialect = "sqlite"
	dsn := func(opts ...string) string {
		q := url.Values{"_journal_mode": {"WAL"}, "_busy_timeout": {"5000"}, "_foreign_keys": {"on"}, "_synchronous": {"FULL"}, "_stmt_cache_size": {"256"}}
		for i := 0; i+1 < len(opts); i += 2 {
			q.Set(opts[i], opts[i+1])
		}
		return "file:" + uriPath.Replace(path) + "?" + q.Encode()
	}
	var err error
	if s.write, err = gorm.Open(sqlite.Open(dsn("_txlock", "immediate")), s.gormConfig()); err != nil {
		return fmt.Errorf("open the database: %w", err)
	}
	w, err := s.write.DB()
	if err != nil {
		return err
	}
	w.SetMaxOpenConns(1)
	if err := s.migrate(ctx); err != nil {
		return err
	}
	if s.reads, err = gorm.Open(sqlite.Open(dsn("_query_only", "true")), s.gormConfig()); err != nil {
		return fmt.Errorf("open the database for reading: %w", err)
	}
	r, err := s.reads.DB()
	if err != nil {
		return err
	}
	r.SetMaxOpenConns(5) // one of them watches (snapshot.go)
	r.SetMaxIdleConns(4) // each keeps its prepared statements
	// The driver ignores options it does not know, so read back what matters:
	// a weaker setting would lose a confirmed booking in a power cut.
	for pragma, want := range map[string]string{"journal_mode": "wal", "synchronous": "2", "foreign_keys": "1"} {
		var got string
		if err := s.write.WithContext(ctx).Raw("PRAGMA " + pragma).Scan(&got).Error; err != nil {
			return err
		}
		if got != want {
			return fmt.Errorf("the database has %s = %s, %s is needed", pragma, got, want)
		}
	}
	s.writer = newWriter(s)
	return nil
}

func (s *Store) openPostgres(ctx context.Context, dsn string) error {
	s.dialect = "postgres"
	g, err := gorm.Open(postgres.Open(dsn), s.gormConfig())
	if err != nil {
		return fmt.Errorf("open the database: %w", err)
	}
	db, err := g.DB()
	if err != nil {
		return err
	}
	db.SetMaxOpenConns(8)
	db.SetMaxIdleConns(8)
	s.write, s.reads = g, g
	return s.migrate(ctx)
}
