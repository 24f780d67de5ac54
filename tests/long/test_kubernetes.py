"""The manifests, offline: kustomize builds them, the published schemas of several versions take them, and what they say
of the service is true of it."""

import hashlib
import importlib
import json
import subprocess
from pathlib import Path

import pytest
import yaml

import pods
from airbough_service.api.server import STOP_SECONDS
from airbough_service.api.settings import from_environment
from programs import needed
from random_documents import document

pytestmark = pytest.mark.long
FOLDER = Path(__file__).resolve().parents[2] / "deploy" / "kubernetes"
VERSIONS = ("1.29", "1.31", "1.33")


@pytest.fixture(scope="module")
def schemas():
    """What holds objects against the published schemas; by `deploy/setup cluster`, which other tests do not need."""
    return importlib.import_module("kubernetes_validate")


@pytest.fixture(scope="module", params=("base", "example"))
def objects(request):
    built = subprocess.run(
        [needed("kubectl"), "kustomize", str(FOLDER / request.param)], capture_output=True, text=True, check=True
    )
    return list(yaml.safe_load_all(built.stdout))


def of_kind(objects, kind):
    return next(one for one in objects if one["kind"] == kind and one["metadata"]["name"].startswith("airbough"))


def test_the_schemas_take_them(objects, schemas):
    for version in VERSIONS:
        for one in objects:
            schemas.validate(one, version, strict=True)


def test_the_schemas_refuse_a_misspelt_field(objects, schemas):
    wrong = of_kind(objects, "Deployment") | {"replica": 2}
    with pytest.raises(schemas.ValidationError):
        schemas.validate(wrong, VERSIONS[0], strict=True)


def test_every_selector_finds_its_pods(objects):
    labels = of_kind(objects, "Deployment")["spec"]["template"]["metadata"]["labels"]
    for kind, key in (
        ("PodDisruptionBudget", "selector"),
        ("NetworkPolicy", "podSelector"),
        ("Deployment", "selector"),
    ):
        wanted = of_kind(objects, kind)["spec"][key]["matchLabels"]
        assert wanted
        assert wanted.items() <= labels.items(), kind
    assert of_kind(objects, "Service")["spec"]["selector"].items() <= labels.items()
    scaled = of_kind(objects, "HorizontalPodAutoscaler")["spec"]["scaleTargetRef"]
    assert scaled["name"] == of_kind(objects, "Deployment")["metadata"]["name"]


def test_the_settings_are_settings_and_a_disk_holds_the_batches(objects):
    settings = from_environment(of_kind(objects, "ConfigMap")["data"])
    pod = of_kind(objects, "Deployment")["spec"]["template"]["spec"]
    scratch = next(volume for volume in pod["volumes"] if "emptyDir" in volume)["emptyDir"]["sizeLimit"]
    assert scratch.endswith("Mi")
    assert int(scratch[:-2]) * 2**20 > settings.workers * settings.batches * settings.batch_body_limit + 32 * 2**20
    assert settings.keys_file, "it starts closed"


def test_a_pod_has_time_to_end(objects):
    pod = of_kind(objects, "Deployment")["spec"]["template"]["spec"]
    (container,) = pod["containers"]
    waits = int(container["lifecycle"]["preStop"]["exec"]["command"][1])
    assert pod["terminationGracePeriodSeconds"] >= waits + STOP_SECONDS + 5


def test_every_container_runs_without_rights(objects):
    for one in objects:
        if one["kind"] != "Deployment":
            continue
        pod = one["spec"]["template"]["spec"]
        assert pod["automountServiceAccountToken"] is False
        assert pod["securityContext"]["runAsNonRoot"] is True
        assert pod["securityContext"]["seccompProfile"]["type"] == "RuntimeDefault"
        for container in pod["containers"]:
            said = container["securityContext"]
            assert said["readOnlyRootFilesystem"] is True
            assert said["allowPrivilegeEscalation"] is False
            assert said["capabilities"]["drop"] == ["ALL"]
            assert {"cpu", "memory"} <= container["resources"]["limits"].keys()
            assert "readinessProbe" in container


@pytest.fixture(scope="module")
def job():
    built = subprocess.run(
        [needed("kubectl"), "kustomize", str(FOLDER / "many-designs")], capture_output=True, text=True, check=True
    )
    (one,) = yaml.safe_load_all(built.stdout)
    return one


def test_the_schemas_take_the_job_of_many_designs(job, schemas):
    for version in VERSIONS[1:]:
        schemas.validate(job, version, strict=True)


def test_the_jobs_shards_are_answered_each_and_again_after_a_loss(job, tmp_path):
    """What a pod runs, run here for each index; the second shard was broken off within a line before."""
    script = pods.script(job, tmp_path)
    for shard, seeds in enumerate((range(30), range(30, 55))):
        text = "".join(json.dumps(document(seed)) + "\n" for seed in seeds)
        (tmp_path / f"designs/shard-{shard:04}.ndjson").write_text(text)

    def pod(index):
        return pods.run(job, script, index)

    for index in (0, 1):
        done = pod(index)
        assert done.returncode == 0, done.stderr
    answers = tmp_path / "answers" / "answers-0001.ndjson"
    whole = answers.read_bytes()
    answers.write_bytes(whole[: len(whole) // 2])
    assert pod(1).returncode == 0
    assert answers.read_bytes() == whole
    verdicts = json.loads((tmp_path / "answers" / "verdicts-0001.json").read_text())
    assert [row["place"].rpartition(":")[2] for row in verdicts] == [str(number) for number in range(1, 26)]
    digest, _ = (tmp_path / "answers" / "answers-0001.sha256").read_text().split()
    assert digest == hashlib.sha256(whole).hexdigest()
    assert pod(2).returncode != 0, "a shard that is not there"
