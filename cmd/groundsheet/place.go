package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"groundsheet/tiles/store"
	"groundsheet/tiles/store/folder"
	"groundsheet/tiles/store/postgres"
)

// storePlace is where the office store is: a folder, or the address of a
// database, which may hold a password and is never shown.
func (a *app) storePlace() (string, error) {
	place := a.storeAt
	if place == "" {
		place = os.Getenv("GROUNDSHEET_STORE")
	}
	if scheme, _, is := strings.Cut(place, "://"); is && !postgres.Is(place) {
		return "", &wrongUse{fmt.Sprintf("an office store cannot be at %s://", scheme), "name a folder, or a database as postgres://USER@HOST:5432/DATABASE"}
	}
	if place != "" {
		return place, nil
	}
	dir, err := os.UserCacheDir()
	if err != nil {
		return "", &wrongUse{fmt.Sprintf("there is no user cache folder (%v)", err), "name a folder with --store DIR or GROUNDSHEET_STORE"}
	}
	return filepath.Join(dir, "groundsheet", "store"), nil
}

// storeThere reports whether there is a store yet. A database is there; asking
// it makes nothing in it.
func (a *app) storeThere() (bool, error) {
	place, err := a.storePlace()
	if err != nil || postgres.Is(place) {
		return err == nil, err
	}
	_, err = os.Stat(place)
	return !errors.Is(err, os.ErrNotExist), nil
}

// openStore opens the store; a folder is made when it is missing.
func (a *app) openStore(ctx context.Context) (store.Store, error) {
	place, err := a.storePlace()
	if err != nil {
		return nil, err
	}
	if !postgres.Is(place) {
		s, err := folder.Open(place)
		if err != nil {
			return nil, err
		}
		return s, nil
	}
	s, err := postgres.Open(ctx, place, postgres.Options{})
	if err != nil {
		return nil, err
	}
	return s, nil
}
