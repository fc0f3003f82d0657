"""What `.cloud/` ships for a class beyond one machine, as far as it can be looked at without a cluster: manifests
against Kubernetes' own models, a learner's pod as KubeSpawner renders it, and names that the code knows."""

from __future__ import annotations

import ast
import json
import re
import tomllib
from pathlib import Path
from types import SimpleNamespace

import pytest
import yaml
from kubernetes_asyncio.client import ApiClient
from kubernetes_asyncio.config import kube_config
from kubespawner import KubeSpawner

from course.hub import class_exchange, configuration, desk, learner_server
from course.hub.room import Room, Settings
from course.learner.at_a_hub import CLASS, EXCHANGE
from tests.apart import run_apart
from tests.tiers import ROOT

CLOUD = ROOT / ".cloud"
VALUES = yaml.safe_load((CLOUD / "values.yaml").read_text(encoding="utf-8"))
MANIFESTS = list(yaml.safe_load_all((CLOUD / "desk.yaml").read_text(encoding="utf-8")))
MODELS = {"PersistentVolumeClaim": "V1PersistentVolumeClaim", "Deployment": "V1Deployment", "Service": "V1Service"}
# What the chart takes of the keys that are used here, and where KubeSpawner has it.
SINGLEUSER = {
    "cmd": "cmd",
    "defaultUrl": "default_url",
    "startTimeout": "start_timeout",
    "uid": "uid",
    "fsGid": "fs_gid",
    "extraEnv": "environment",
}
NO_CLUSTER = """apiVersion: v1
kind: Config
current-context: none
clusters: [{name: none, cluster: {server: "http://127.0.0.1:1"}}]
contexts: [{name: none, context: {cluster: none, user: none}}]
users: [{name: none, user: {token: none}}]
"""


async def as_kubernetes_reads(manifest: dict) -> dict:
    """A manifest through Kubernetes' own model of its kind and back: what that does not know, or misses, shows."""
    async with ApiClient() as client:
        answer = SimpleNamespace(data=json.dumps(manifest))
        return client.sanitize_for_serialization(client.deserialize(answer, MODELS[manifest["kind"]]))


@pytest.mark.parametrize("manifest", MANIFESTS, ids=lambda one: f"{one['kind']} {one['metadata']['name']}")
def test_a_manifest_is_what_kubernetes_takes(manifest):
    """Every field is one of Kubernetes', in its place and of its type."""
    assert run_apart(as_kubernetes_reads(manifest)) == manifest


def test_a_field_that_kubernetes_does_not_know_is_noticed():
    """The same look fails for a misspelt field, and for one that is missing."""
    (deployment,) = (one for one in MANIFESTS if one["kind"] == "Deployment")
    spelt = json.loads(json.dumps(deployment).replace('"containers"', '"container"'))
    with pytest.raises(ValueError):
        run_apart(as_kubernetes_reads(spelt))
    more = {**deployment, "spec": {**deployment["spec"], "replica": 1}}
    assert run_apart(as_kubernetes_reads(more)) != more


async def learners_pod() -> dict:
    """A learner's pod, as the chart's spawner renders it from the values."""
    values = VALUES["singleuser"]
    told = {trait: values[key] for key, trait in SINGLEUSER.items()}
    told |= {"image": "{name}:{tag}".format(**values["image"])}
    told |= {"mem_limit": values["memory"]["limit"], "mem_guarantee": values["memory"]["guarantee"]}
    told |= {"cpu_limit": values["cpu"]["limit"], "cpu_guarantee": values["cpu"]["guarantee"]}
    told |= {"volumes": values["storage"]["extraVolumes"], "volume_mounts": values["storage"]["extraVolumeMounts"]}
    hub = SimpleNamespace(public_host="", url="http://hub", base_url="/hub/", api_url="http://hub/hub/api")
    user = SimpleNamespace(name="ada", escaped_name="ada", id=1, url="/user/ada", server=None)
    spawner = KubeSpawner(_mock=True, hub=hub, user=user, **told)
    async with ApiClient() as client:
        return client.sanitize_for_serialization(await spawner.get_pod_manifest())


def test_a_learners_pod_is_rendered(tmp_path, monkeypatch):
    """It runs our server under the account for which nbgrader believes the hub's name, within limits, with the exchange
    at the place that its environment names."""
    (tmp_path / "config").write_text(NO_CLUSTER, encoding="utf-8")
    monkeypatch.setattr(kube_config, "KUBE_CONFIG_DEFAULT_LOCATION", str(tmp_path / "config"))
    pod = run_apart(learners_pod())
    (container,) = pod["spec"]["containers"]
    assert container["args"] == ["python", "-m", learner_server.__name__]
    environment = {one["name"]: one["value"] for one in container["env"]}
    assert environment[CLASS] == "spring"
    assert {"name": "exchange", "mountPath": environment[EXCHANGE]} in container["volumeMounts"]
    assert {"name": "exchange", "persistentVolumeClaim": {"claimName": "exchange"}} in pod["spec"]["volumes"]
    assert container["securityContext"]["runAsUser"] == 1000 and pod["spec"]["securityContext"]["fsGroup"] == 1000
    assert container["resources"]["limits"]["memory"] == 600 * 2**20


def test_values_close_what_the_room_closes(tmp_path):
    """Nobody is an administrator, an account that left is not let in, three start at a time, and instructors alone come
    to the desk: as in a room on one machine."""
    hub = VALUES["hub"]
    who = hub["config"]["Authenticator"]
    assert who["admin_users"] == [] and who["allow_existing_users"] is False
    groups = hub["config"]["JupyterHub"]["load_groups"]
    room = Room(Path("/srv/spring"), Settings(learners=tuple(who["allowed_users"])))
    assert set(groups) == {f"nbgrader-{room.name}", f"formgrade-{room.name}"}
    assert groups[f"nbgrader-{room.name}"]["users"] == list(room.settings.learners)
    (role,) = hub["loadRoles"].values()
    assert role["groups"] == [f"formgrade-{room.name}"] and f"access:services!service={room.name}" in role["scopes"]
    assert hub["concurrentSpawnLimit"] == 3 and VALUES["singleuser"]["startTimeout"] == 180
    assert room.name in hub["services"] and configuration.API_TOKEN


def test_the_desks_pod_knows_class_and_exchange():
    """The desk runs our module, on the volume that learners' pods have too, and is told that owners say nothing."""
    (deployment,) = (one for one in MANIFESTS if one["kind"] == "Deployment")
    (container,) = deployment["spec"]["template"]["spec"]["containers"]
    environment = {one["name"]: one.get("value") for one in container["env"]}
    assert container["command"][:3] == ["python", "-m", desk.__name__]
    assert environment[CLASS] == VALUES["singleuser"]["extraEnv"][CLASS]
    assert environment[EXCHANGE] == VALUES["singleuser"]["extraEnv"][EXCHANGE]
    assert environment[class_exchange.ONE_ACCOUNT]
    (claim,) = (one for one in MANIFESTS if one["metadata"]["name"] == "exchange")
    assert claim["spec"]["accessModes"] == ["ReadWriteMany"]


def test_the_image_recipe_names_what_is_there():
    """Every file that it copies is in the repository, its Python is one that the course was tried with, and it runs the
    learner's server."""
    lines = (CLOUD / "Containerfile").read_text(encoding="utf-8").replace("\\\n", " ").splitlines()
    for line in lines:
        if line.startswith("COPY "):
            assert all((ROOT / name).exists() for name in line.split()[1:-1]), line
    (python,) = (found[1] for line in lines if (found := re.match(r"FROM .*/python:(\d+\.\d+)-slim$", line)))
    assert (ROOT / "course" / "constraints" / f"python{python}.txt").is_file()
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["optional-dependencies"]
    assert "timing-course[hub]" in " ".join(lines) and "hub" in extras
    (command,) = (ast.literal_eval(line[4:]) for line in lines if line.startswith("CMD "))
    assert command == VALUES["singleuser"]["cmd"]
    assert any("useradd" in line and "jovyan" in line for line in lines)
