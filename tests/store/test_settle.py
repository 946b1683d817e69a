"""What processes keep of letting people in: changed by one after another, on either database."""

from concurrent.futures import ThreadPoolExecutor

from app.store import Store


def test_of_many_who_change_at_once_none_is_lost(store_url):
    stores = [Store(store_url) for _ in range(4)]

    def one_more(number):
        def decide(there):
            return {"try:count": str(int(there.get("try:count", b"0")) + 1).encode()}

        stores[number % 4].settle("try:", decide)

    stores[0].settle("try:", dict.fromkeys)  # PostgreSQL's tables are shared by tests
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(one_more, range(24)))
    assert stores[0].settle("try:") == {"try:count": b"24"}
    for store in stores:
        store.close()


def test_only_what_begins_so_is_seen_and_touched(store_url):
    store = Store(store_url)
    store.settle("b:", dict.fromkeys)
    store.settle("a:", lambda there: {**dict.fromkeys(there), "a:1": b"one", "a:2": b"two"})
    assert store.settle("a_") == {}  # no pattern
    assert store.settle("b:", lambda there: {"b:1": b"%d" % len(there)}) == {"b:1": b"0"}
    assert store.settle("a:", lambda _: {"a:1": None, "a:3": b"three"}) == {"a:2": b"two", "a:3": b"three"}
    assert store.shared_secret(b"first") == store.shared_secret(b"second")
    store.close()
