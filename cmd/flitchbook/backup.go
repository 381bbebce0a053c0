package main

import (
	"fmt"

	"flitchbook/api/store"
)

type backupCmd struct {
	databaseConfig
	File string `arg:"" help:"New file to copy to."`
}

func (c *backupCmd) Run(p *program) error {
	file := c.sqliteFile()
	if file == "" {
		return badSetting("a PostgreSQL database is copied with PostgreSQL's own tool: pg_dump --format=custom --file=FILE DATABASE")
	}
	if err := store.Backup(p.ctx, file, c.File); err != nil {
		return err
	}
	fmt.Fprintf(p.out, "Copied to %s and read through. Keep the secret file too: without it no secret link works.\n", c.File)
	return nil
}
