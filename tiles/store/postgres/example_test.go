package postgres_test

import (
	"context"
	"fmt"

	"groundsheet/tiles/store/postgres"
)

func ExampleOpen() {
	// The password comes from PGPASSWORD or ~/.pgpass.
	st, err := postgres.Open(context.Background(), "postgres://crew@db.example:5432/tiles?sslmode=verify-full", postgres.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer st.Close()
	fmt.Println(st.Where())
}
