package tomledit

import (
	"slices"
)

// editor makes one change in a text.
type editor struct {
	document
	before string // see [Change]
}

func (e *editor) change(at path, v any) error {
	e.all = index(e.text)
	switch v := v.(type) {
	case nil:
		e.remove(at)
		return nil
	case Table:
		if at.last().list && at.last().index < 0 {
			return e.add(at.parent(), v)
		}
		return e.setTable(at, v)
	}
	if at.last().list && at.last().index < 0 {
		return e.add(at.parent(), v)
	}
	return e.setValue(at, v)
}

func (e *editor) setTable(at path, t Table) error {
	if i := e.value(at); i >= 0 && !e.isTable(i) {
		return e.replace(i, t)
	}
	if !e.exists(at) {
		if len(at) == 1 {
			return e.newBlock("["+at.String()+"]", at[0].key, t)
		}
		text, err := render(t)
		if err != nil {
			return err
		}
		return e.insert(at.parent(), at.last(), text)
	}
	for _, x := range slices.Backward(slices.Clone(e.all)) { // keys that the new table lacks
		if len(x.path) > len(at) && x.path.within(at) && !slices.ContainsFunc(t, func(f Field) bool { return f.Key == x.path[len(at)].key }) {
			e.remove(x.path[:len(at)+1])
		}
	}
	for _, f := range t {
		if err := e.change(at.key(f.Key), f.Value); err != nil {
			return err
		}
	}
	return nil
}

func (e *editor) replace(i int, v any) error {
	text, err := render(v)
	if err == nil {
		e.splice(e.all[i].value, e.all[i].to, text)
	}
	return err
}

func (e *editor) setValue(at path, v any) error {
	list, isList := v.([]any)
	if i := e.value(at); i >= 0 {
		old, err := decode(slices.Concat([]byte("v = "), e.text[e.all[i].value:e.all[i].to], []byte("\n")))
		if err != nil {
			return err
		}
		now, err := normal(v)
		if err != nil || same(old["v"], now) {
			return err
		}
		if isList && e.isList(i) {
			return e.setItems(at, old["v"].([]any), list, now.([]any))
		}
		return e.replace(i, v)
	}
	tables := isList && len(list) > 0 && !slices.ContainsFunc(list, func(x any) bool { _, ok := x.(Table); return !ok })
	if e.exists(at) {
		if !isList || !tables && len(list) > 0 {
			return byHand(at.String(), "it is a table here")
		}
		return e.setTables(at, list)
	}
	if tables && len(at) == 1 {
		return e.setTables(at, list)
	}
	text, err := render(v)
	if err != nil {
		return err
	}
	return e.insert(at.parent(), at.last(), text)
}

// setTables makes the tables of a list those of all.
func (e *editor) setTables(at path, all []any) error {
	n := 0
	for e.exists(at.at(n)) {
		n++
	}
	for ; n > len(all); n-- {
		e.remove(at.at(n - 1))
	}
	for i, t := range all {
		if i >= n {
			if err := e.add(at, t); err != nil {
				return err
			}
		} else if err := e.setTable(at.at(i), t.(Table)); err != nil {
			return err
		}
	}
	return nil
}

// setItems makes the items of a list those of list, and touches only what differs
// between the beginning and the end that both have.
func (e *editor) setItems(at path, old, list, now []any) error {
	head, tail := 0, 0
	for head < min(len(old), len(now)) && same(old[head], now[head]) {
		head++
	}
	for tail < min(len(old), len(now))-head && same(old[len(old)-1-tail], now[len(now)-1-tail]) {
		tail++
	}
	if head == 0 && tail == len(old) && tail > 0 {
		tail-- // there is an item then to go after
	}
	i := head
	for ; i < min(len(old), len(now))-tail; i++ {
		if err := e.change(at.at(i), list[i]); err != nil {
			return err
		}
	}
	for j := len(old) - tail - 1; j >= i; j-- {
		e.remove(at.at(j))
	}
	for ; i < len(now)-tail; i++ {
		text, err := render(list[i])
		if err != nil {
			return err
		}
		e.addItem(e.value(at), i-1, text)
	}
	return nil
}

// add puts a value at the end of a list.
func (e *editor) add(at path, v any) error {
	text, err := render(v)
	if err != nil {
		return err
	}
	if i := e.value(at); i >= 0 {
		if !e.isList(i) {
			return byHand(at.String(), "it is no list")
		}
		n := 0
		for e.value(at.at(n)) >= 0 {
			n++
		}
		e.addItem(i, n-1, text)
		return nil
	}
	t, ok := v.(Table)
	if last := e.latest(func(x entry) bool { return x.path.within(at) && !x.isItem() }); last >= 0 {
		if !ok {
			return byHand(at.String(), "it is a list of tables")
		}
		pos := e.all[last].end
		if own := e.comments(pos, true); last+1 >= len(e.all) || own != e.all[min(last+1, len(e.all)-1)].start {
			pos = own // samples behind the last key
		}
		return e.block(pos, "[["+at.namesOnly()+"]]", t)
	}
	if ok && len(at) == 1 {
		return e.newBlock("[["+at.String()+"]]", at[0].key, t)
	}
	return e.insert(at.parent(), at.last(), "["+text+"]")
}

// namesOnly is a path as a heading has it.
func (p path) namesOnly() string {
	return slices.DeleteFunc(slices.Clone(p), func(s step) bool { return s.list }).String()
}

// insert adds a key to a table, which is made when it is missing.
func (e *editor) insert(table path, key step, value string) error {
	line := key.String() + " = " + value
	if len(table) == 0 {
		e.insertLine(-1, key.key, line)
		return nil
	}
	if i := e.value(table); i >= 0 {
		if !e.isTable(i) {
			return byHand(table.String(), "it is no table")
		}
		n := 0
		for _, x := range e.all {
			if x.in == i {
				n++
			}
		}
		e.addItem(i, n-1, line)
		return nil
	}
	if h := e.latest(func(x entry) bool { return x.heading && slices.Equal(x.path, table) }); h >= 0 {
		e.insertLine(h, key.key, line)
		return nil
	}
	within := func(x entry) bool { return x.path.within(table) }
	if i := e.latest(func(x entry) bool { return within(x) && !x.isItem() && !x.heading }); i >= 0 && !e.underIts(i, table) {
		x := e.all[i] // written as table.key = …
		above := 0
		if x.table >= 0 {
			above = len(e.all[x.table].path)
		}
		e.line(x.end, e.indent(x.start)+table[above:].String()+"."+line)
		return nil
	}
	if i := slices.IndexFunc(e.all, within); i >= 0 {
		return e.lines(e.all[i].start, "["+table.namesOnly()+"]", []string{line})
	}
	switch {
	case len(table) == 1:
		pos := e.place(table[0].key, e.before)
		return e.lines(pos, "["+table.String()+"]", []string{line})
	case table.last().list:
		return byHand(table.String(), "there is no such table")
	}
	return e.insert(table.parent(), table.last(), "{ "+line+" }")
}
