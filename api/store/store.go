// Package store keeps the shop's records and is the only place where a transaction
// starts. Its exported methods are sentences of the business (Book, Pay, DraftOrder,
// Seal …): each opens one transaction, checks the rule, makes the change, writes the
// history row and the notices, and commits, or changes nothing. Lower-case helpers
// take a tx and compose.
package store

import (
	"context"
	"crypto/rand"
	"encoding/binary"
	"fmt"
	"log/slog"
	"net/url"
	"strings"
	"time"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/migrations"
	"flitchbook/planner/unit"
)

// Config is what a Store needs to know. The zero value of every field but URL works.
type Config struct {
	URL     string           // "sqlite:PATH" or "postgres://…"
	BaseURL string           // how customers reach the pages: "https://shop.example.test"; no slash at the end
	Domain  string           // right-hand side of calendar UIDs and Message-IDs; must not change once in use
	Secret  []byte           // key that secret links are derived from; at least 16 bytes, kept outside the database
	Rules   shop.Rules       // house rules; zero: shop.DefaultRules
	Shop    string           // the shop's name
	Mail    string           // where the shop itself is written to: morning list, alarms, farms' answers; "": nowhere
	Now     func() time.Time // clock; zero: time.Now is NOT used, Open refuses
	Rand    func() int64     // nonces of links; zero: crypto/rand
	Log     *slog.Logger     // zero: discarded
}

// Store is the shop's records. It is safe for many goroutines.
type Store struct {
	Rules  shop.Rules
	Loc    *time.Location
	Config Config

	dialect string
	write   *gorm.DB // SQLite: one connection, used by the writer alone
	reads   *gorm.DB
	writer  *writer // SQLite only
	watch   watch   // SQLite only
	now     func() time.Time
	log     *slog.Logger
	wake    chan struct{} // poked after a commit that left a notice
	hashing chan struct{} // room for the password hashes reckoned at once
}

// Open opens the database, brings it up to date and asserts the settings that the
// safety of the records rests on.
func Open(ctx context.Context, c Config) (*Store, error) {
	if c.Now == nil {
		return nil, fmt.Errorf("store: no clock given")
	}
	if len(c.Secret) < 16 {
		return nil, fmt.Errorf("store: the link secret must have at least 16 bytes")
	}
	if c.Rules.Zone == "" {
		c.Rules = shop.DefaultRules()
	}
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	if c.Rand == nil {
		c.Rand = randomNonce
	}
	if c.Domain == "" {
		c.Domain = "flitchbook.example.test"
	}
	c.BaseURL = strings.TrimRight(c.BaseURL, "/")
	loc, err := c.Rules.Location()
	if err != nil {
		return nil, err
	}
	s := &Store{Rules: c.Rules, Loc: loc, Config: c, now: c.Now, log: c.Log, wake: make(chan struct{}, 1),
		hashing: make(chan struct{}, 2)}
	switch {
	case strings.HasPrefix(c.URL, "sqlite:"):
		err = s.openSQLite(ctx, strings.TrimPrefix(c.URL, "sqlite:"))
	case strings.HasPrefix(c.URL, "postgres://"), strings.HasPrefix(c.URL, "postgresql://"):
		err = s.openPostgres(ctx, c.URL)
	default:
		err = fmt.Errorf("the database address %q begins with neither sqlite: nor postgres://", scrub(c.URL))
	}
	if err != nil {
		return nil, err
	}
	return s, nil
}

func scrub(u string) string {
	if p, err := url.Parse(u); err == nil {
		return p.Redacted()
	}
	return "(unreadable)"
}

func randomNonce() int64 {
	var b [8]byte
	rand.Read(b[:]) // never fails (crypto/rand documents it)
	return int64(binary.BigEndian.Uint64(b[:]) >> 1)
}

func (s *Store) migrate(ctx context.Context) error {
	db, err := s.write.DB()
	if err != nil {
		return err
	}
	return migrations.Up(ctx, db, s.dialect)
}

// Dialect is "sqlite" or "postgres".
func (s *Store) Dialect() string { return s.dialect }

// Close ends the writer and both pools. Use cases under way are finished first.
func (s *Store) Close() error {
	if s.writer != nil {
		s.writer.close()
	}
	first := s.watch.close()
	for _, g := range []*gorm.DB{s.reads, s.write} {
		if db, err := g.DB(); err == nil {
			if err := db.Close(); err != nil && first == nil {
				first = err
			}
		}
	}
	return first
}

// Now is the store's clock, cut to seconds.
func (s *Store) Now() unit.Instant { return unit.InstantOf(s.now()) }

// Today is the date in the shop.
func (s *Store) Today() unit.Day { return s.Now().Day(s.Loc) }

// Wake is poked when a notice was left for sending.
func (s *Store) Wake() <-chan struct{} { return s.wake }

// read is for queries outside a transaction. Each query has its own view: reads that
// must agree are one query, or carry a revision that the later write checks.
func (s *Store) read(ctx context.Context) *gorm.DB { return s.reads.WithContext(ctx) }

// Ping says whether the database answers.
func (s *Store) Ping(ctx context.Context) error {
	var one int
	return s.read(ctx).Raw("SELECT 1").Scan(&one).Error
}

// LogFault logs an internal error at the edge, once. What was cut off because whoever asked
// waits no longer is a note, not a fault.
func (s *Store) LogFault(what string, err error) {
	if cutOff(err) {
		s.log.Info("cut off", "what", what)
		return
	}
	s.log.Error("fault", "what", what, "error", err.Error())
}

// Version is the shape of the database: the number of the newest change it has had.
func (s *Store) Version(ctx context.Context) (int64, error) {
	db, err := s.write.DB()
	if err != nil {
		return 0, err
	}
	return migrations.Version(ctx, db, s.dialect)
}
