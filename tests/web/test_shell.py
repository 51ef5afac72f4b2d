"""The shell's doors: what a tablet is told to keep is exactly what it is given."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from bedside.settings import folder
from bedside.web import shell
from bedside.web.headers import add_headers
from bedside.web.shell import WorkerBroken, read_build, worker_text


def make_app(static: Path) -> Flask:
    """The shell's doors over one folder of files."""
    app = Flask("shell", static_folder=str(static), template_folder=str(folder("templates")))
    app.config["HOUSE"] = "h-here"
    app.register_blueprint(shell.pages)
    app.add_url_rule("/tablet/", "tablet.shell", lambda: app.jinja_env.get_template("tablet/shell.html").render())
    app.after_request(add_headers)
    return app


@pytest.fixture(scope="module")
def client() -> FlaskClient:
    return make_app(folder("static")).test_client()


def kept_list(client: FlaskClient) -> dict:
    line = re.search(r"^const SHELL = (.*);$", client.get("/sw.js").text, re.MULTILINE)
    assert line
    return json.loads(line[1])


def test_every_listed_file_is_served_with_the_bytes_that_were_hashed(client: FlaskClient):
    files = kept_list(client)["files"]

    assert len(files) > 30
    for file in files:
        answer = client.get(file["url"])
        assert (file["url"], answer.status_code) == (file["url"], 200)
        assert (file["url"], hashlib.sha256(answer.data).hexdigest()) == (file["url"], file["sha256"])


def test_the_app_its_styles_and_its_icons_are_kept_and_the_desks_files_are_not(client: FlaskClient):
    shell_list = kept_list(client)
    names = {file["url"].removeprefix(f"/static/{shell_list['build']}/") for file in shell_list["files"]}

    assert {"/tablet/", "js/tablet/main.js", "js/tablet/engine.js", "css/tokens.css", "css/tablet.css"} <= names
    assert "icons/bedside.svg" in names
    assert [name for name in names if name.startswith("js/pages/") or name.endswith(".md") or name == "sw.js"] == []


def test_everything_the_shell_page_names_is_kept(client: FlaskClient):
    page = client.get("/tablet/").text
    named = set(re.findall(r'(?:src|href)="(/static/[^"]+)"', page))

    assert len(named) > 4
    assert named <= {file["url"] for file in kept_list(client)["files"]}


def test_every_import_of_the_app_is_kept(client: FlaskClient):
    files = {name for name in read_build(folder("static")).kept if name.endswith(".js")}
    missing = []
    for name in files:
        text = (folder("static") / name).read_text()
        for imported in re.findall(r'^(?:import|export)[^"\n]* from "(\.[^"]+)";', text, re.MULTILINE):
            target = (Path("/") / name).parent.joinpath(imported).resolve().as_posix().lstrip("/")
            if target not in files:
                missing.append((name, imported))

    assert missing == []


def test_the_shell_page_has_no_inline_script_or_style_and_nothing_from_elsewhere(client: FlaskClient):
    page = client.get("/tablet/").text

    assert re.findall(r"<script(?![^>]*\bsrc=)[^>]*>", page) == []
    assert re.findall(r"<style|\sstyle=|\son[a-z]+=", page) == []
    assert re.findall(r"https?://", page) == []


def test_a_files_address_never_means_other_bytes(tmp_path: Path):
    for name in ("sw.js", "js/tablet/main.js", "css/tokens.css"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text("const SHELL = {};\n")
    before = read_build(tmp_path)
    (tmp_path / "css/tokens.css").write_text("/* new */\n")
    after = read_build(tmp_path)

    assert before.name != after.name
    assert after.url("css/tokens.css") == f"/static/{after.name}/css/tokens.css"
    with pytest.raises(KeyError):
        after.url("css/gone.css")


def test_a_worker_without_a_place_for_the_list_stops_the_house(tmp_path: Path):
    (tmp_path / "sw.js").write_text("addEventListener('fetch', () => {});\n")

    with pytest.raises(WorkerBroken):
        worker_text(read_build(tmp_path), "<!doctype html>")


@pytest.mark.parametrize(
    ("path", "status"),
    [("js/tablet/engine.js", 200), ("js/tablet/README.md", 404), ("../sw.js", 404), ("js/tablet/gone.js", 404)],
)
def test_only_files_of_the_app_are_given_out(client: FlaskClient, path: str, status: int):
    assert client.get(f"/static/{kept_list(client)['build']}/{path}").status_code == status


def test_the_worker_is_asked_for_anew_each_time_and_the_files_never(client: FlaskClient):
    worker, file = client.get("/sw.js"), client.get(kept_list(client)["files"][-1]["url"])

    assert worker.headers["Cache-Control"] == "no-cache"
    assert worker.content_type.startswith("text/javascript")
    assert "worker-src 'self'" in worker.headers["Content-Security-Policy"]
    assert file.headers["Cache-Control"] == "public, max-age=31536000, immutable"


def test_the_manifest_names_icons_that_are_there_in_their_sizes(client: FlaskClient):
    answer = client.get("/manifest.webmanifest")
    manifest = json.loads(answer.data)

    assert answer.content_type == "application/manifest+json"
    assert (manifest["start_url"], manifest["display"], manifest["id"]) == ("/tablet/", "standalone", "/tablet/")
    for icon in manifest["icons"]:
        content = client.get(icon["src"]).data
        if icon["type"] == "image/png":
            assert png_size(content) == icon["sizes"]
    assert {icon["purpose"] for icon in manifest["icons"]} == {"any", "maskable"}
    assert {"192x192", "512x512"} <= {icon["sizes"] for icon in manifest["icons"]}


def png_size(content: bytes) -> str:
    """Width and height as the file's head tells them."""
    assert content.startswith(b"\x89PNG")
    return f"{int.from_bytes(content[16:20])}x{int.from_bytes(content[20:24])}"
