package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"flitchbook/api/store"
)

// exportCmd writes the records to a file others can read.
type exportCmd struct {
	shopConfig
	File string `arg:"" help:"New file to write, such as shop.zip."`
}

func (c *exportCmd) Run(p *program) error {
	return c.withStore(p, func(st *store.Store) error {
		// It holds names and what people cannot eat: nobody else's to read.
		err := newFile(c.File, func(w io.Writer) error { return st.TakeOut(p.ctx, w) })
		if err != nil {
			return fmt.Errorf("export: %w", err)
		}
		fmt.Fprintf(p.out, "Written to %s. Keep it as carefully as the database, and the secret file beside it: without that no secret link works.\n", c.File)
		return nil
	})
}

// importCmd reads them back into an empty database of either kind.
type importCmd struct {
	shopConfig
	WithoutSecret bool   `help:"Go on though there is no secret file: links in mails already sent will lead nowhere."`
	File          string `arg:"" help:"File written by export."`
}

func (c *importCmd) Run(p *program) error {
	if _, err := os.Stat(c.SecretFile); errors.Is(err, fs.ErrNotExist) && !c.WithoutSecret {
		return badSetting("there is no secret file %s: put the shop's own there first, or say --without-secret and every secret link already sent dies", c.SecretFile)
	}
	f, err := os.Open(c.File)
	if err != nil {
		return badSetting("the archive cannot be read: %v", err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	err = c.withStore(p, func(st *store.Store) error {
		n, err := st.TakeIn(p.ctx, f, info.Size())
		if err != nil {
			return err
		}
		fmt.Fprintf(p.out, "%d records read in.\n", n)
		return nil
	})
	if err != nil {
		return err
	}
	// Opened anew, as the shop's own now; then everything that must hold is looked at.
	return (&checkCmd{shopConfig: c.shopConfig}).Run(p)
}

// restoreCmd brings a backup back.
type restoreCmd struct {
	shopConfig
	File string `arg:"" help:"Copy made by backup."`
}

func (c *restoreCmd) Run(p *program) error {
	to := c.sqliteFile()
	if to == "" {
		return badSetting("a PostgreSQL database is brought back with PostgreSQL's own tool: pg_restore --dbname=DATABASE FILE")
	}
	if _, err := os.Stat(to); err == nil {
		return badSetting("there is a database at %s already, and nothing is written over it; move it away first", to)
	}
	if err := store.Backup(p.ctx, c.File, to); err != nil {
		return fmt.Errorf("restore: %w", err)
	}
	fmt.Fprintf(p.out, "Brought back to %s and read through.\n", to)
	return (&checkCmd{shopConfig: c.shopConfig}).Run(p)
}

// newFile writes a file that was not there before, for its owner's eyes, whole or not at
// all.
func newFile(name string, write func(io.Writer) error) error {
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	err = write(f)
	if err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return errors.Join(err, os.Remove(name))
	}
	return nil
}
