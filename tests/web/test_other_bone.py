"""The edit that puts a construct on another bone, over HTTP. The demand is our own."""

from tests.client import Stored


def test_the_server_tells_the_edit(stored: Stored) -> None:
    told = stored.client.get(f"{stored.path}/other-bones/tibia").json()
    assert told["version"] == 1
    answer = stored.edit(told["edit"])
    assert answer.status_code == 200
    assert stored.get()["case"]["constructs"][0]["bone"]["name"] == "tibia"
    assert answer.json()["status"].startswith(told["edit"]["label"])
    assert stored.client.get(f"{stored.path}/other-bones/rib").status_code == 422
    assert stored.client.get(f"{stored.path}/other-bones/tibia?construct=1").status_code == 404
