package tomledit

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
)

// FromJSON is a JSON value as the Value of a [Change]: an object is a [Table] with its
// keys in their order, null is nil.
func FromJSON(data []byte) (any, error) {
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	v, err := fromTokens(d, 0)
	if err != nil {
		return nil, fmt.Errorf("a value cannot be read: %w", err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, errors.New("a value goes on after its end")
	}
	return v, nil
}

const maxNesting = 20

func fromTokens(d *json.Decoder, depth int) (any, error) {
	token, err := d.Token()
	if err != nil || depth > maxNesting {
		return nil, errors.Join(err, deeper(depth))
	}
	switch t := token.(type) {
	case json.Number:
		if !strings.ContainsAny(string(t), ".eE") {
			return t.Int64()
		}
		return t.Float64()
	case json.Delim:
		if t == '[' {
			list := []any{}
			for d.More() {
				v, err := fromTokens(d, depth+1)
				if err != nil {
					return nil, err
				}
				list = append(list, v)
			}
			_, err := d.Token()
			return list, err
		}
		table := Table{}
		for d.More() {
			key, err := d.Token()
			if err != nil {
				return nil, err
			}
			v, err := fromTokens(d, depth+1)
			if err != nil {
				return nil, err
			}
			if v != nil { // a key that is not there
				table = append(table, Field{Key: fmt.Sprint(key), Value: v})
			}
		}
		_, err := d.Token()
		return table, err
	}
	return token, nil
}

func deeper(depth int) error {
	if depth > maxNesting {
		return errors.New("it is nested too deep")
	}
	return nil
}
